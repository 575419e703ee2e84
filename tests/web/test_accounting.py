"""The pages on which the record is shown to be complete, or not."""

from __future__ import annotations

import json
import re
import uuid
from hashlib import sha256
from pathlib import Path

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.exchange.store import import_table
from kb.incidents.store.folder import Folder
from tests.web.conftest import ADMIN, Browser, SignIn


@pytest.fixture
def lead(sign_in: SignIn) -> Browser:
    browser = sign_in("lead")
    browser.get("/record/account")
    return browser


def test_forms_are_issued_and_accounted_for(lead: Browser, folder: Folder) -> None:
    lead.post("/record/account/forms", election="now", first="101", last="103", to="north")
    assert "101-103 (3)" in lead.get("/record/account")
    lead.post("/record/account/form", election="now", form="101", state="blank")
    lead.post("/record/account/form", 422, election="now", form="102", state="missing")
    assert "Say how that came about" in lead.page
    lead.post("/record/account/form", 422, election="now", form="102", state="used", case="77")
    assert "There is no case 77" in lead.page
    page = lead.get("/record/account")
    assert "102-103 (2)" in page
    lead.post("/record/account/forms", 422, election="now", first="9", last="3")
    assert [event.kind for event in folder.record.told("form.accounted", "now")]


def test_a_paper_form_becomes_a_case_at_its_own_times(lead: Browser, folder: Folder) -> None:
    lead.get("/record/paper")
    lead.post("/record/paper", 422, form="", place="", reported="25:00", words="")
    assert "Type the number that is printed on the form" in lead.page
    assert "as it stands on the form" in lead.page
    lead.get("/record/paper")
    there = lead.post(
        "/record/paper", form="205", place="P1", reported="00:00", words="jam, one ballot out",
        symptom="jam", equipment="scanner", effect="slowed", outcome="fixed-by-phone",
    )  # fmt: skip
    case = folder.record.incident(there.rpartition("/")[2])
    assert case is not None
    assert (case.status, case.place, case.words) == ("closed", "P1", "jam, one ballot out")
    assert case.reported is not None
    assert case.reported < now()
    assert any(entry.body.get("form") == "205" for entry in case.timeline)
    # Never issued: it shows.
    assert "Told of, never issued" in lead.get("/record/account")


def test_a_paper_forms_case_does_not_tell_the_forms_id(lead: Browser, folder: Folder) -> None:
    # The events' ids are hashes of the form's id, the time and the words; the case's is public.
    typed = {
        "form": "206", "place": "P1", "reported": "00:00", "words": "jam", "symptom": "jam",
        "equipment": "scanner", "effect": "slowed", "entry": str(uuid.uuid4()),
    }  # fmt: skip
    lead.get("/record/paper")
    case = lead.post("/record/paper", **typed).rpartition("/")[2]
    assert lead.post("/record/paper", **typed).rpartition("/")[2] == case
    assert case != typed["entry"]
    assert folder.record.incident(typed["entry"]) is None
    assert len(folder.record.events(incident=case)) == 2
    public = [case, None, "P1", "206"]
    for event in folder.record.events(incident=case):
        when = format_instant(event.happened.replace(microsecond=0))
        for base in public:
            content = json.dumps([base, case, event.kind, event.body, when], sort_keys=True)
            digest = sha256(content.encode()).digest()[:16]
            assert event.id != str(uuid.UUID(bytes=digest, version=4))
    lead.post("/record/paper", 400, **(typed | {"entry": "x"}))


def test_a_place_is_counted_up_and_a_difference_is_explained(lead: Browser, folder: Folder) -> None:
    page = "/places/P1/count"
    lead.get(page)
    even = {"checked_in": "500", "counted": "480", "stored": "12", "provisional": "6", "fled": "2"}
    lead.post(page, 422, election="now", **(even | {"fled": "1"}))
    assert "do not come out even" in lead.page
    lead.post(page, election="now", **(even | {"fled": "1", "explained": "one left in line"}))
    assert "1 more checked in than ballots explain" in lead.get(page)
    lead.post(page, election="now", **even)
    assert "1 of 2 places are counted up; 1 come out even" in lead.get("/record/account")
    lead.post(page, 422, election="now")
    assert len(folder.record.told("place.reconciled", "now")) == 2


def test_who_enters_states_the_entries_at_the_end_of_the_shift(
    sign_in: SignIn, folder: Folder
) -> None:
    desk = sign_in("hotline")
    desk.get("/calls")
    desk.post("/calls")
    page = desk.get("/record/statement")
    assert "On the phone" in page
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert digest
    desk.post("/record/statement", 400, election="now", digest="0" * 64)
    desk.post("/record/statement", election="now", digest=digest.group(1), text="all mine")
    assert "There is nothing new to state" in desk.get("/record/statement")
    (stated,) = folder.record.told("shift.stated", "now")
    assert stated.body["entries"] == 1
    assert "Hotline Person" in sign_in("canvass").get("/record/account")


def test_who_stated_an_action_can_state_their_entries(sign_in: SignIn, folder: Folder) -> None:
    lead = sign_in("lead")
    body = {
        "action": "a1", "text": "Train two more", "element": "training", "owner": "Leads",
        "due": "2031-01-31", "state": "planned",
    }  # fmt: skip
    call = {"call": "c1", "due": "2026-11-03T17:30:00Z"}
    for kind, told in (("action.stated", body), ("call.ended", call)):
        entry = {
            "id": new_id(), "election": "now", "incident": None, "kind": kind,
            "happened": format_instant(now()), "body": told,
        }  # fmt: skip
        (receipt,) = folder.record.take([entry], folder.people.get("lead"))
        assert receipt.state == "new", receipt.message
    page = lead.get("/record/statement")
    assert "to be done by 2031-01-31" in page
    assert "somebody calls back by 17:30" in page


def test_calls_that_left_no_entry_are_named(lead: Browser, folder: Folder, tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    began = format_instant(now())
    path.write_text(
        "call,place,started_at,answered_at,ended_at,incident\n"
        f"c1,P1,{began},{began},,\nc2,P1,{began},,,\n"
    )
    import_table(folder.record, folder.people, "calls", path, actor=ADMIN, election="now")
    page = lead.get("/record/account")
    assert "1 callers gave up" in page
    assert "1 answered calls left no entry" in page
    lead.get("/calls")
    lead.post("/calls")
    assert "No answered call is missing" in lead.get("/record/account")


def test_the_paper_pack_has_the_directory_the_seals_and_blank_forms(lead: Browser) -> None:
    page = lead.get("/record/paper/pack?first=7&last=9")
    for expected in ("Mill Hall", "K100", "555-0111", "Form 7", "Form 9", "protective 5000"):
        assert expected in page
    assert "Form 10" not in page


def test_a_decision_needs_the_role_and_whom_the_table_names(
    lead: Browser, sign_in: SignIn, folder: Folder
) -> None:
    call = lead.get("/calls") and lead.post("/calls")
    case = call.rpartition("/")[2]
    page = f"/incidents/{case}/decide"
    assert "Feed a ballot again" in lead.get(page)
    lead.post(page, 422, about="re-feed", text="feed it again", who_else="two workers")
    lead.post(page, 422, about="restart", text="restart once")
    assert "needs the chief judge" in lead.page
    lead.post(page, about="restart", text="restart once", who_else="the chief judge")
    manager = sign_in("manager")
    manager.get(page)
    manager.post(page, about="re-feed", text="feed it again", who_else="two workers, counsel")
    found = folder.record.incident(case)
    assert found is not None
    assert [one.text for one in found.decisions] == ["restart once", "feed it again"]
