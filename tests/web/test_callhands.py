"""A call that joins an open case, changes hands, is called back, passed on or given up."""

from __future__ import annotations

import re

import pytest

from kb.incidents.incident import Incident
from kb.incidents.store.folder import Folder
from tests.web.conftest import Browser, SignIn


@pytest.fixture
def desk(sign_in: SignIn) -> Browser:
    return sign_in("hotline")


def begin(desk: Browser, **notes: str) -> str:
    desk.get("/calls")
    address = desk.post("/calls")
    desk.get(address)
    if notes:
        desk.post(f"{address}/notes", **notes)
    return address


def id_of(address: str) -> str:
    return address.rpartition("/")[2]


def case_of(folder: Folder, address: str) -> Incident:
    found = folder.record.incident(id_of(address))
    assert found is not None
    return found


def test_a_second_call_joins_the_case_that_is_open(desk: Browser, folder: Folder) -> None:
    first = begin(desk, place="P1", words="paper jam")
    desk.get(first)
    desk.post(f"{first}/finish", effect="device", way="open")
    second = begin(desk, place="P1")
    page = desk.get(second)
    assert "Yes, add this call to no. 1" in page
    desk.post(f"{second}/same/{id_of(first)}", place="P1", words="still jammed, worse now")
    assert desk.location == first
    joined, kept = case_of(folder, second), case_of(folder, first)
    assert (joined.duplicate_of, joined.outcome, joined.status) == (
        kept.id, "duplicate", "closed"
    )  # fmt: skip
    assert "“still jammed, worse now”" in kept.notes[-1].text
    # The call goes on there: it is on the phone, and among the unfinished ones.
    page = desk.get(first)
    assert 'id="timer"' in page
    assert second not in desk.get("/calls")


def test_cases_of_two_places_are_never_joined(desk: Browser, folder: Folder) -> None:
    first = begin(desk, place="P1", words="paper jam")
    second = begin(desk, place="P2", words="paper jam")
    desk.get(second)
    desk.post(f"{second}/same/{id_of(first)}", 400)
    desk.get(second)
    desk.post(f"{second}/same/{id_of(second)}", 400)
    assert case_of(folder, second).duplicate_of is None


def test_a_call_is_handed_over_with_all_that_was_typed(
    desk: Browser, sign_in: SignIn, folder: Folder
) -> None:
    call = begin(desk, place="P1", words="dark screen")
    desk.get(call)
    desk.post(f"{call}/draft", 204, place="P1", words="dark screen", note="half a thought")
    desk.post(f"{call}/hand-over", 422, place="P1", words="dark screen", note="half a thought")
    desk.post(
        f"{call}/hand-over",
        place="P1", words="dark screen", note="half a thought",
        hand_to="lead", hand_reason="speaks Spanish",
    )  # fmt: skip
    lead = sign_in("lead")
    assert "dark screen" in lead.get("/calls").split("Open cases")[0]
    assert "half a thought" in lead.get(call)
    assert "Handed to another answerer: Lead Person, “speaks Spanish”" in lead.get(
        f"/incidents/{id_of(call)}"
    )
    assert folder.record.draft("hotline", id_of(call)) is None


def test_nobody_is_handed_a_call_who_may_not_take_it(desk: Browser, folder: Folder) -> None:
    call = begin(desk, place="P1")
    desk.get(call)
    desk.post(f"{call}/hand-over", 422, place="P1", hand_to="rover")
    desk.get(call)
    desk.post(f"{call}/hand-over", 422, place="P1", hand_to="hotline")
    assert folder.record.draft("hotline", id_of(call)) is not None


def test_a_promised_call_stands_on_the_list_until_it_is_made(desk: Browser, folder: Folder) -> None:
    call = begin(desk, place="P1", words="dark screen")
    desk.get(call)
    desk.post(f"{call}/finish", 422, effect="device", way="open", due="half past")
    desk.get(call)
    desk.post(f"{call}/finish", effect="device", way="open", due="23:59")
    page = desk.get("/calls")
    assert "By 23:59:" in page
    assert "555-0111" in page.split("Calls to make")[1]
    desk.post(f"{call}/again")
    assert desk.location == call
    assert "Calls to make" not in desk.get("/calls")
    assert case_of(folder, call).call_back_due is None


def test_a_call_on_other_matters_is_passed_and_counted(
    desk: Browser, sign_in: SignIn, folder: Folder
) -> None:
    call = begin(desk, place="P1", words="a voter is not on the list")
    desk.get(call)
    desk.post(f"{call}/finish", 422, way="pass")
    desk.get(call)
    desk.post(f"{call}/finish", way="pass", passed_to="registration")
    case = case_of(folder, call)
    assert (case.outcome, case.effect, case.status) == ("not-equipment", "none", "closed")
    assert re.search(r"registration\s*<[^>]*>\s*1|registration 1", sign_in("lead").get("/now"))


def test_callers_who_gave_up_are_counted(desk: Browser, sign_in: SignIn) -> None:
    desk.get("/calls")
    desk.post("/calls/given-up")
    desk.get("/calls")
    desk.post("/calls/given-up")
    page = sign_in("lead").get("/now")
    assert re.search(r"Callers lost</dt><dd><a [^>]*>2</a>", page)


def test_who_else_has_the_case_open_is_shown(desk: Browser, sign_in: SignIn) -> None:
    call = begin(desk, place="P1")
    lead = sign_in("lead")
    assert "Also open at Hotline Person." in lead.get(call)
    assert "Also open at Lead Person." in desk.get(f"{call}/beside")
    assert "Also open" not in sign_in("manager").get("/now")


def test_several_calls_stand_beside_each_other(desk: Browser) -> None:
    first, second = begin(desk, place="P1"), begin(desk, place="P2")
    page = desk.get(second)
    tabs = page.split('aria-label="My unfinished calls"')[1].split("</nav>")[0]
    assert first in tabs
    assert "Mill Hall" in tabs
    assert f'href="{second}" aria-current="page"' in tabs


def test_a_closed_case_changes_hands_no_more(desk: Browser) -> None:
    call = begin(desk, place="P1")
    desk.get(call)
    desk.post(f"{call}/finish", effect="none", way="close", outcome="caller-lost", no_restored="x")
    desk.get("/calls")
    desk.post(f"{call}/again", 400)
