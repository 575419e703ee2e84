"""The same fault at several places: the alarm on Now, one case for the county, everyone told."""

from __future__ import annotations

import csv
import re
import uuid
from pathlib import Path

import pytest

from kb.exchange.store import import_table
from kb.incidents.store.folder import Folder
from tests.web.conftest import ADMIN, Browser, SignIn


@pytest.fixture
def places(folder: Folder, tmp_path: Path) -> list[str]:
    """Five more places."""
    header = (
        "place,name,address,latitude,longitude,zone,phone,opens,closes,precincts,registered,"
        "expected_voters"
    )
    ids = [f"Q{number}" for number in range(1, 6)]
    lines = [f"{one},Quarter {one},1 Row,,,North,,,,,," for one in ids]
    (tmp_path / "places.csv").write_text("\n".join([header, *lines]) + "\n")
    assert len(next(csv.reader([lines[0]]))) == len(header.split(","))
    import_table(folder.record, folder.people, "places", tmp_path / "places.csv", actor=ADMIN)
    return ids


def jam(desk: Browser, place: str) -> str:
    desk.get("/calls")
    call = desk.post("/calls")
    desk.get(call)
    desk.post(f"{call}/notes", place=place, words="paper jam")
    desk.post(f"{call}/pick/jam-at-entry", place=place, words="paper jam")
    desk.get(call)
    desk.post(f"{call}/finish", effect="device", way="open")
    return call.rpartition("/")[2]


def test_an_alarm_becomes_one_case_and_everyone_is_told(
    sign_in: SignIn, folder: Folder, places: list[str]
) -> None:
    desk, lead = sign_in("hotline"), sign_in("lead")
    for place in places[:3]:
        jam(desk, place)
    assert "The same fault at several places" not in lead.get("/now")
    cases = [row.id for row in folder.record.incidents("now")]
    cases.append(jam(desk, places[3]))
    page = lead.get("/now")
    assert re.search(r"at 4 places since", page)
    assert "No earlier election is in the record" in page
    link = re.search(r'href="(/county-wide\?kind=[^"]+)"', page)
    assert link
    form = lead.get(link.group(1))
    assert form.count('name="cases"') == form.count('checked><label for="case-') == 4
    assert 'value="jam-at-entry" selected' in form
    lead.post(
        "/county-wide", equipment="scanner", symptom="jam", article="jam-at-entry",
        text="Jams at many places: go by card 101.", cases=cases, report_by="23:58",
    )  # fmt: skip
    parent = lead.location.rpartition("/")[2]
    story = lead.get(lead.location)
    assert "County-wide case" in story
    assert "To be reported to the state by" in story
    assert story.count("Quarter Q") == 4
    for case in cases:
        found = folder.record.incident(case)
        assert found is not None
        assert (found.parent, found.status) == (parent, "open")
    # It is no fault of a place, so nothing counts twice.
    row = folder.record.row(parent)
    assert row is not None
    assert (row.effect, row.place, row.county_wide) == ("none", None, True)
    page = lead.get("/now")
    assert "Make it county-wide" not in page
    assert "County-wide cases" in page
    assert "4 cases" in page
    # Told: each reads it once, and the receipt says who.
    rover = sign_in("rover")
    banner = rover.get("/rounds")
    assert "Jams at many places" in banner
    notice = re.search(r'action="(/notices/[^"]+/read)"', banner)
    assert notice
    rover.post(notice.group(1), back="/rounds")
    assert rover.location == "/rounds"
    assert "Jams at many places" not in rover.get("/rounds")
    receipts = lead.get("/notices")
    assert "Rover Person" in receipts.split("Not yet:")[1].split("<ul>")[1]
    assert "Hotline Person" in receipts.split("Not yet:")[1].split("</p>")[0]
    assert "Jams at many places" in sign_in("hotline").get("/calls")
    # Viewers and the canvass board answer no phone.
    assert "Jams at many places" not in sign_in("canvass").get("/incidents")


def test_all_faults_of_the_form_are_told_at_once(
    sign_in: SignIn, folder: Folder, places: list[str]
) -> None:
    jam(sign_in("hotline"), places[0])
    lead = sign_in("lead")
    lead.get("/county-wide")
    page = lead.post("/county-wide", 422, report_by="soon") or lead.page
    for words in (
        "Write what everyone",
        "Pick the equipment",
        "Pick the symptom",
        "Tick the cases",
    ):
        assert words in page
    assert "&#39;soon&#39; is not a time" in page
    assert [row.county_wide for row in folder.record.incidents("now")] == [False]


def test_new_cases_join_one_that_is_open(
    sign_in: SignIn, folder: Folder, places: list[str]
) -> None:
    desk, lead = sign_in("hotline"), sign_in("lead")
    first, second = jam(desk, places[0]), jam(desk, places[1])
    told = {"equipment": "scanner", "symptom": "jam"}
    lead.get("/county-wide")
    lead.post("/county-wide", text="Jams.", cases=[first], **told)
    parent = lead.location.rpartition("/")[2]
    lead.get("/county-wide")
    lead.post("/county-wide", text="One more.", cases=[second], into=parent, **told)
    assert lead.location.endswith(parent)
    assert [row.id for row in folder.record.incidents("now", parent=parent)] == [first, second]
    assert sum(row.county_wide for row in folder.record.incidents("now")) == 1


def test_a_notice_needs_words_and_leads_back_only_to_us(sign_in: SignIn) -> None:
    lead, desk = sign_in("lead"), sign_in("hotline")
    lead.get("/notices")
    lead.post("/notices", 422, text="")
    lead.get("/notices")
    lead.post("/notices", text="The depot moved to the annex.", article="jam-at-entry")
    banner = desk.get("/calls")
    address = re.search(r'action="(/notices/[^"]+/read)"', banner)
    assert address
    for back in ("//else.example/", "https://else.example/", "/\\else.example"):
        desk.get("/notices")
        desk.post(address.group(1), back=back)
        assert desk.location == "/notices"
    desk.get("/notices")
    desk.post("/notices/none/read", 404)


def test_a_county_wide_case_does_not_tell_the_forms_id(
    sign_in: SignIn, folder: Folder, places: list[str]
) -> None:
    desk, lead = sign_in("hotline"), sign_in("lead")
    case = jam(desk, places[0])
    form = {
        "equipment": "scanner", "symptom": "jam", "text": "Go by card 101.", "cases": [case],
        "entry": str(uuid.uuid4()),
    }  # fmt: skip
    lead.get("/county-wide")
    parents = {lead.post("/county-wide", **form).rpartition("/")[2] for _ in range(2)}
    assert len(parents) == 1
    assert form["entry"] not in parents
    assert folder.record.incident(str(form["entry"])) is None
