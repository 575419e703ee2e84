"""Dispatch by page: the proposal is filled in, another choice needs a reason, which is kept."""

from __future__ import annotations

import pytest

from kb.incidents.store.folder import Folder
from kb.people.accounts import Account
from tests.web.conftest import SignIn


@pytest.fixture
def waiting(sign_in: SignIn) -> str:
    """A case that is open and has no rover; its id."""
    desk = sign_in("hotline")
    desk.get("/calls")
    call = desk.post("/calls")
    desk.get(call)
    desk.post(f"{call}/notes", place="P1", words="jam again")
    desk.get(call)
    desk.post(f"{call}/finish", effect="slowed", way="open")
    return call.rpartition("/")[2]


def test_the_proposal_is_one_click(sign_in: SignIn, folder: Folder, waiting: str) -> None:
    lead = sign_in("lead")
    page = lead.get("/dispatch")
    assert "1 case waits" in page
    assert "proposed, about 40 min" in page
    lead.post(f"/dispatch/{waiting}", rover="rover", proposed="rover", reason="")
    case = folder.record.incident(waiting)
    assert case is not None
    assert case.rover == "rover"
    assert "Nobody waits" in lead.get("/dispatch")


def test_another_one_needs_a_reason(sign_in: SignIn, folder: Folder, waiting: str) -> None:
    folder.people.put(Account("second", "Second Rover", frozenset({"rover"}), "North"))
    lead = sign_in("lead")
    # The one of the same zone is nearer, as far as anybody knows.
    assert "proposed, about 15 min" in lead.get("/dispatch")
    lead.post(f"/dispatch/{waiting}", 422, rover="rover", proposed="second")
    assert "say why" in lead.page
    lead.post(f"/dispatch/{waiting}", 422, rover="", proposed="second")
    lead.get("/dispatch")
    lead.post(f"/dispatch/{waiting}", rover="rover", proposed="second", reason="has the part")
    sent = folder.record.told("rover.sent", "now")
    assert [(one.body["rover"], one.body["reason"]) for one in sent] == [("rover", "has the part")]
