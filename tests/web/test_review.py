"""The pages of the review over the demo county: findings, methods, comparison, actions, report."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from flask import Flask

from kb.base.clock import now
from kb.cli import main
from kb.demo.build import DemoCounty, build
from kb.incidents.actions import STATED, actions
from kb.incidents.store.folder import Folder, open_folder
from kb.review.methods import METHODS
from tests.web.conftest import Browser, over

Enter = Callable[[str], Browser]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoCounty:
    return build(tmp_path_factory.mktemp("demo") / "county", datetime.now().astimezone())


@pytest.fixture(scope="module")
def county(demo: DemoCounty) -> Iterator[Folder]:
    opened = open_folder(demo.folder)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def enter(compiled: Flask, county: Folder, demo: DemoCounty) -> Iterator[Enter]:
    """A signed-in browser on the demo county; one session a role, since argon2 is slow."""
    known = {one.role: one for one in demo.sign_ins}
    begun: dict[str, str] = {}
    with over(compiled, county):

        def sign_in(role: str) -> Browser:
            if role not in begun:
                one = known[role]
                made = county.people.sign_in(one.login, one.password, now(), 8)
                assert made
                begun[role] = made.token
            session = county.people.session(begun[role], now())
            assert session
            client = compiled.test_client()
            client.set_cookie("latchbook", begun[role])
            return Browser(client, session.csrf)

        yield sign_in


def hidden(page: str) -> dict[str, str]:
    """The hidden fields of the form on a page, but for its token."""
    form = page.partition('<form method="post" class="signing">')[2]
    found = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))
    found.pop("form_token", None)
    return {name: unescape(value) for name, value in found.items()}


def test_the_last_election_that_is_over_is_reviewed_first(enter: Enter) -> None:
    page = enter("canvass").get("/review")
    assert "Review: Spring election" in page
    assert "Report printers of batch RP-07 failed more often" in page
    assert "The hotline was short of people from 07:00 to 08:30" in page
    assert "Looked at, and not standing out" in page
    # Who only reads is not offered to decide.
    assert "Decide what to do" not in page


def test_tiny_places_are_named_as_too_few_to_say_and_not_accused(enter: Enter) -> None:
    page = enter("manager").get("/review")
    accused = re.findall(r"<h3>(P\d\d) .* had more faults than chance explains</h3>", page)
    assert accused == ["P27"]
    assert "The highest raw rates are those of small places with fewer than 5 faults" in page
    for tiny in ("P08", "P21", "P38", "P45"):
        assert f">{tiny}" not in page


def test_a_day_in_progress_is_said_to_be_so_far(enter: Enter) -> None:
    page = enter("lead").get("/review?election=today")
    assert "The day is not over: this is so far" in page
    assert "Places cannot be compared: no ballots are known" in page
    assert "Decide what to do" not in page


def test_the_filter_stays_in_the_address_and_is_said(enter: Enter) -> None:
    browser = enter("manager")
    page = browser.get("/review?election=spring&zone=Saltmarsh&phase=voting&part=morning")
    assert "Only a part of the election is looked at" in page
    kept = "election=spring&amp;zone=Saltmarsh&amp;phase=voting&amp;part=morning"
    assert f"/review/methods/restore?{kept}" in page
    whole = browser.get("/review/methods/totals?election=spring")
    part = browser.get("/review/methods/totals?election=spring&zone=Saltmarsh")
    assert whole != part
    assert "P27" not in part
    jams = browser.get("/review?election=spring&kind=scanner%7Cjam")
    assert "Only a part of the election is looked at: Ballot scanner, jam." in jams
    assert "18 cases count" in jams or "19 cases count" in jams
    # What no list offers is no part of the day.
    assert "Only a part" not in browser.get("/review?election=spring&part=dawn")


@pytest.mark.parametrize("method", [one.id for one in METHODS])
def test_each_method_has_a_page_with_its_source_and_tables_as_files(
    enter: Enter, method: str
) -> None:
    browser = enter("reader")
    page = browser.get(f"/review/methods/{method}?election=spring")
    assert 'class="sources"' in page
    for address in re.findall(r'href="(/review/methods/[^"]+\.csv[^"]*)"', page):
        text = browser.get(address.replace("&amp;", "&"))
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) > 1
        assert {len(row) for row in rows} == {len(rows[0])}


def test_figures_have_a_title_a_description_and_ids_of_their_own(enter: Enter) -> None:
    page = enter("manager").get("/review")
    for name in ("funnel", "restore"):
        assert f'aria-labelledby="{name}-title {name}-words"' in page
        assert f'<title id="{name}-title">' in page
    assert ".plot" in enter("manager").get("/review/plot.css")


def test_two_elections_side_by_side(enter: Enter) -> None:
    browser = enter("manager")
    page = browser.get("/review/compare")
    assert "Spring election and Autumn election" in page
    assert "Faults for the same number of ballots" in page
    assert "There is no earlier election" in browser.get("/review/compare?election=autumn")
    # Another election chosen in the same form: then the one before it.
    assert "Spring election and Autumn election" in browser.get(
        "/review/compare?election=spring&with=spring"
    )


@pytest.mark.parametrize(
    "address",
    [
        "/review?election=none",
        "/review/methods/none",
        "/review/methods/rates/none.csv",
        "/review/actions/none",
        "/review/actions/new?election=spring&finding=none",
    ],
)
def test_what_is_not_there_is_said_to_be_not_there(enter: Enter, address: str) -> None:
    assert "Back to the start" in enter("manager").get(address, 404)


def test_a_finding_leads_to_an_action_that_shows_its_measure(enter: Enter, county: Folder) -> None:
    browser = enter("manager")
    new = "/review/actions/new?election=spring&finding=spares%3Abmd"
    assert "More marking devices were out for the day" in browser.get(new)
    fields = {"text": "Buy four", "element": "equipment", "owner": "Store", "state": "planned"}
    page = browser.get(new)
    for _ in range(2):  # a double click is one action
        browser.post(new, **hidden(page) | fields | {"due": "2020-03-01"})
    (kept,) = actions(county.record.told(STATED, "spring"))
    assert (kept.finding, kept.measure, kept.base) == ("spares:bmd", "/spares/bmd/needed", 3)
    board = browser.get("/review")
    assert "Overdue" in board
    assert "Buy four" in board
    assert "Its action" in board
    browser.post(f"/review/actions/{kept.id}", due="2020-03-01", **fields | {"state": "done"})
    (after,) = actions(county.record.told(STATED, "spring"))
    assert (after.state, after.measure, after.base) == ("done", kept.measure, kept.base)
    assert "Overdue" not in browser.get("/review")
    history = browser.get(f"/review/actions/{kept.id}")
    assert history.count("due 2020-03-01") == 2
    # Who only reads sees it, and has no form.
    reader = enter("canvass")
    assert "Buy four" in reader.get("/review/actions")
    assert "<textarea" not in reader.get(f"/review/actions/{kept.id}")
    reader.post(f"/review/actions/{kept.id}", 403, due="2027-03-01", **fields)


def test_an_action_is_carried_over_and_shows_what_the_next_election_brought(enter: Enter) -> None:
    browser = enter("manager")
    new = "/review/actions/new?election=autumn&finding=record-gaps"
    told = hidden(browser.get(new))
    told |= {"text": "Fill in the log the same day", "element": "training", "owner": "Leads"}
    browser.post(new, **told | {"due": "2031-01-31", "state": "started"})
    page = browser.get("/review/actions?election=spring")
    assert "Fill in the log the same day" in page
    # 3 cases with gaps in autumn, 7 in spring, when the demo was written.
    assert "cases with gaps in their record (lower is better): 3 then; 7 in Spring election" in page
    report = browser.get("/review/report?election=spring")
    assert "(carried over)" in report


def test_all_faults_of_an_action_are_told_at_once_and_nothing_typed_is_lost(
    enter: Enter, county: Folder
) -> None:
    browser = enter("lead")
    before = len(county.record.told(STATED, "spring"))
    browser.get("/review/actions/new?election=spring")
    page_status = 422
    browser.post(
        "/review/actions/new?election=spring",
        page_status,
        text="",
        element="weather",
        owner="",
        due="soon",
        state="planned",
        note="kept words",
    )
    for message in ("Write what is to be done", "is not one of the choices", "Name who sees to it",
                    "Give the day as year-month-day"):  # fmt: skip
        assert message in browser.page
    assert "kept words" in browser.page
    assert len(county.record.told(STATED, "spring")) == before


def test_the_report_on_the_screen_and_to_take_away(enter: Enter, county: Folder) -> None:
    browser = enter("canvass")
    page = browser.get("/review/report?election=spring")
    for heading in ("1. Overview", "2. Summary", "3. Analysis of capabilities",
                    "Appendix A. Improvement plan", "Appendix B.", "Appendix C. Place stories",
                    "Signatures"):  # fmt: skip
        assert heading in page
    taken = browser.client.get("/review/report.zip?election=spring")
    with zipfile.ZipFile(io.BytesIO(taken.data)) as archive:
        report = archive.read("report.html").decode()
        package = json.loads(archive.read("bundle/datapackage.json"))
        names = set(archive.namelist())
        contents = [archive.read(name) for name in names]
    assert {f"bundle/{one['path']}" for one in package["resources"]} <= names
    # Nothing of the record itself: that is for those who may take it out.
    assert all(name.startswith(("report.html", "bundle/review/", "bundle/data")) for name in names)
    for login in [account.login for account in county.people.all()] + ["Una Pellusk", "K41100"]:
        assert not any(login.encode() in data for data in contents)
    # It needs nothing else: no address outside itself, no script.
    assert not re.findall(r'(?:src|href)="(?!#)', report)
    assert "<script" not in report
    assert "@import" not in report


@pytest.mark.parametrize("part", ["before", "opening", "morning", "afternoon", "evening", "after"])
def test_each_part_of_the_day_has_its_pages(enter: Enter, part: str) -> None:
    browser = enter("manager")
    for page in ("", "/methods/funnel", "/methods/hotline"):
        browser.get(f"/review{page}?election=spring&part={part}")


def test_the_report_of_a_day_in_progress_says_so_and_counts_up_to_now(enter: Enter) -> None:
    browser = enter("manager")
    screen = browser.get("/review/report?election=today")
    taken = browser.client.get("/review/report.zip?election=today")
    with zipfile.ZipFile(io.BytesIO(taken.data)) as archive:
        alone = archive.read("report.html").decode()
    for text in (screen, alone):
        assert "So far: the day of this election is not over." in text
        assert "22:00, the county" not in text


def test_the_report_names_nobody_of_the_office_nor_a_witness(enter: Enter, county: Folder) -> None:
    page = enter("canvass").get("/review/report?election=spring")
    main = page.partition("<main")[2]
    for account in county.people.all():
        assert account.name not in main
    for witness in ("Una Pellusk", "Rolf Astilga", "Merit Jastoth", "Gil Ostendrel"):
        assert witness not in main


def test_the_command_writes_the_report_into_a_new_folder_alone(
    demo: DemoCounty, county: Folder, tmp_path: Path
) -> None:
    out = tmp_path / "report"
    told = ["report", "spring", "--out", str(out), "--data", str(demo.folder)]
    assert county.record.elections()
    assert CliRunner().invoke(main, told).exit_code == 0
    assert (out / "report.html").stat().st_size > 50_000
    assert CliRunner().invoke(main, told).exit_code == 0  # again: the same files
    (out / "letter.txt").write_text("dear county")
    again = CliRunner().invoke(main, told)
    assert again.exit_code == 1
    assert "holds other files" in again.output
    assert CliRunner().invoke(main, [*told[:1], "none", *told[2:]]).exit_code == 1


def test_the_command_prints_findings_or_every_number(demo: DemoCounty, tmp_path: Path) -> None:
    data = ["--data", str(demo.folder)]
    words = CliRunner().invoke(main, ["review", "spring", *data])
    assert "P27 Chandler's Hall had more faults than chance explains" in words.output
    found = CliRunner().invoke(main, ["review", "spring", "--json", *data])
    assert json.loads(found.output)["totals"]["rows"] == 79
    asked = tmp_path / "compare.csv"
    asked.write_text("name,equipment,before,places\nclass,epollbook,autumn,P01 P04 P07\n")
    compared = CliRunner().invoke(
        main, ["review", "spring", "--json", "--compare", str(asked), *data]
    )
    assert list(json.loads(compared.output)["before_after"]) == ["class"]
    assert json.loads(compared.output)["before_after"]["class"]["places"] == 3
