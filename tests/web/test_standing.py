"""Pages show what was told as it stands: redacted words nowhere, struck entries gone."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store.folder import Folder
from tests.web.conftest import Browser, SignIn

SECRET = "Wren Tallow of 5 Mill Lane"
ACTION = {
    "action": "a1", "text": SECRET, "issue": SECRET, "note": SECRET, "element": "training",
    "owner": "Leads", "due": "2031-01-31", "state": "planned",
}  # fmt: skip
COUNT = {"place": "P1", "counted": 3, "checked_in": 9, "explained": SECRET}


def tell(
    folder: Folder, who: str, kind: str, body: Mapping[str, object], case: str | None = None
) -> str:
    told = {
        "id": new_id(), "election": "now", "incident": case, "kind": kind,
        "happened": format_instant(now()), "body": body,
    }  # fmt: skip
    (receipt,) = folder.record.take([told], folder.people.get(who))
    assert receipt.state == "new", receipt.message
    return str(told["id"])


def reports(manager: Browser) -> str:
    data = manager.client.get("/review/report.zip?election=now").data
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return "".join(packed.read(name).decode(errors="replace") for name in packed.namelist())


@pytest.fixture
def told(folder: Folder) -> list[str]:
    """A notice, an action and a count with a name in them; their ids."""
    return [
        tell(folder, "manager", kind, body)
        for kind, body in (
            ("notice.sent", {"text": SECRET}),
            ("action.stated", ACTION),
            ("place.reconciled", COUNT),
        )
    ]


PAGES = {
    "hotline": ("/notices", "/incidents"),
    "rover": ("/notices", "/rounds"),
    "manager": (
        "/notices", "/review/actions", "/review/actions/a1", "/review", "/places/P1/count",
        "/review/report", "/record/statement",
    ),
}  # fmt: skip


def test_redacted_words_are_on_no_page(sign_in: SignIn, folder: Folder, told: list[str]) -> None:
    manager = sign_in("manager")
    for role, pages in PAGES.items():
        browser = sign_in(role)
        for page in pages[:2]:
            assert SECRET in browser.get(page), page
    assert SECRET in reports(manager)
    for event in told:
        tell(folder, "manager", "text.withheld", {"event": event, "reason": "a voter's name"})
    for role, pages in PAGES.items():
        browser = sign_in(role)
        for page in pages:
            assert SECRET not in browser.get(page), page
    assert SECRET not in reports(manager)
    for page in ("/notices", "/review/actions", "/places/P1/count", "/record/statement"):
        assert "[redacted]" in manager.get(page), page


def test_struck_and_corrected_notices(sign_in: SignIn, folder: Folder) -> None:
    wrong = tell(folder, "lead", "notice.sent", {"text": "The depot is closed."})
    struck = tell(folder, "lead", "notice.sent", {"text": "Ignore form 9."})
    change = {"event": wrong, "replacement": {"text": "The depot is open."}, "reason": "wrong"}
    tell(folder, "lead", "event.corrected", change)
    tell(folder, "lead", "event.corrected", {"event": struck, "reason": "meant for nobody"})
    for page in ("/notices", "/incidents"):
        shown = sign_in("hotline").get(page)
        assert "The depot is open." in shown
        assert "The depot is closed." not in shown
        assert "Ignore form 9." not in shown


def test_a_withheld_witness_is_not_named_where_a_correction_waits(
    sign_in: SignIn, folder: Folder
) -> None:
    case = new_id()
    tell(folder, "rover", "incident.reported", {"place": "P1"}, case)
    witness = {"name": SECRET, "role": "judge"}
    named = tell(folder, "rover", "witness.named", witness, case)
    change = {"event": named, "reason": "misspelled", "replacement": witness | {"role": "clerk"}}
    tell(folder, "rover", "correction.asked", change, case)
    lead = sign_in("lead")
    assert SECRET in lead.get("/corrections")
    hides = {"event": named, "members": ["name"], "reason": "asked to"}
    tell(folder, "manager", "text.withheld", hides, case)
    shown = lead.get("/corrections")
    assert SECRET not in shown
    assert shown.count("[redacted]") == 2
    assert "clerk" in shown
    assert "misspelled" in shown
    assert SECRET not in sign_in("rover").get("/record/statement")


def test_a_struck_statement_states_nothing(sign_in: SignIn, folder: Folder) -> None:
    tell(folder, "hotline", "note.added", {"text": "line is short"})
    body = {
        "starts": "2020-01-01T00:00:00Z", "until": "2900-01-01T00:00:00Z", "entries": 0,
        "digest": "x",
    }  # fmt: skip
    stated = tell(folder, "hotline", "shift.stated", body)
    desk = sign_in("hotline")
    assert "nothing new to state" in desk.get("/record/statement")
    tell(folder, "hotline", "event.corrected", {"event": stated, "reason": "too early"})
    shown = desk.get("/record/statement")
    assert "line is short" in shown
    assert "Stated before" not in shown


def test_a_struck_line_of_a_form_does_not_count(sign_in: SignIn, folder: Folder) -> None:
    lead = sign_in("lead")
    tell(folder, "lead", "forms.issued", {"first": 1, "last": 3})
    line = tell(folder, "lead", "form.accounted", {"form": 2, "state": "blank"})
    assert "1, 3 (2)" in lead.get("/record/account")
    tell(folder, "lead", "event.corrected", {"event": line, "reason": "another form"})
    assert "<strong>1-3 (3)" in lead.get("/record/account")
