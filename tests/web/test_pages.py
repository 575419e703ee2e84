"""Now, the register, the place story, the library, review and office."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from markupsafe import escape
from sqlite_utils.utils import sqlite3

from kb.base.clock import now
from kb.exchange.devicelog_store import take
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from kb.review.methods import METHODS
from tests.web.conftest import ADMIN, Browser, SignIn


@pytest.fixture
def case(sign_in: SignIn) -> str:
    """A stopped place: the incident's id."""
    desk = sign_in("hotline")
    desk.get("/calls")
    call = desk.post("/calls")
    desk.get(call)
    desk.post(f"{call}/notes", place="P1", words="memory message on the screen")
    desk.get(call)
    desk.post(f"{call}/pick/memory-device-error", words="memory message")
    desk.get(call)
    desk.post(f"{call}/finish", effect="stopped", flags="ballots", way="rover", rover="rover")
    return call.rpartition("/")[2]


def test_now_shows_the_stopped_place_the_rover_and_the_spares(sign_in: SignIn, case: str) -> None:
    page = sign_in("manager").get("/now")
    stopped = page.split("Stopped now")[1].split("Open cases by priority")[0]
    assert "Mill Hall" in stopped
    assert f"/incidents/{case}" in stopped
    assert "Rover Person" in page
    assert 'Ballot scanner</th><td class="n">1</td>' in page


def test_now_polls_with_its_etag_and_changes_when_something_is_stored(
    sign_in: SignIn, folder: Folder
) -> None:
    desk = sign_in("hotline")
    first = desk.client.get("/now/table")
    tag = first.headers["ETag"]
    assert desk.client.get("/now/table", headers={"If-None-Match": tag}).status_code in {304, 200}
    version = folder.record.version()
    desk.get("/calls")
    desk.post("/calls")
    assert folder.record.version() > version
    again = desk.client.get("/now/table", headers={"If-None-Match": tag})
    assert again.status_code == 200
    assert again.headers["ETag"] != tag


def test_the_register_filters_and_keeps_the_filter_in_the_address(
    sign_in: SignIn, case: str
) -> None:
    viewer = sign_in("reader")
    assert case in viewer.get("/incidents?effect=stopped&zone=North&flag=ballots&text=memory")
    assert case not in viewer.get("/incidents?effect=slowed")
    assert case not in viewer.get("/incidents?place=P2")
    assert case not in viewer.get("/incidents?election=unknown")


def test_an_incident_tells_every_entry_in_plain_words(sign_in: SignIn, case: str) -> None:
    page = sign_in("canvass").get(f"/incidents/{case}")
    for words in (
        "On the phone",
        "Article opened",
        "“memory message”",
        "Rover sent",
        "Hotline Person",
    ):
        assert words in page


def test_a_place_has_its_story_on_one_page(sign_in: SignIn, case: str) -> None:
    page = sign_in("canvass").get("/places/P1")
    for words in ("Mill Hall", "memory message on the screen", "SC-1", "K100, K101", "Rover sent"):
        assert words in page
    assert f"/incidents/{case}" in page
    sign_in("canvass").get("/places/P99", 404)


def test_every_article_and_tree_has_a_page(sign_in: SignIn, library: Library) -> None:
    author = sign_in("author")
    author.get("/library")
    for slug, article in library.articles.items():
        page = author.get(f"/library/{slug}")
        assert escape(article.stop) in page
    for slug in library.trees:
        page = author.get(f"/library/trees/{slug}")
        assert "go to step" in page
        assert "Voting" in page


def test_the_library_is_searched_in_the_callers_words(sign_in: SignIn) -> None:
    page = sign_in("author").get("/library?q=the+lid+keeps+popping+up")
    assert page.index("Lid or door of the ballot box") < page.index("All articles")
    author = sign_in("author")
    assert "Nothing fits these words well" in author.get("/library?q=which+horse+won+the+race")
    assert "No article has any of these words" in author.get("/library?q=%3F%3F")


def test_the_review_of_a_county_without_turnout_has_all_its_pages(
    sign_in: SignIn, folder: Folder
) -> None:
    browser = sign_in("manager")
    for address in ("/review", "/review/report", "/review/actions", "/review/compare"):
        browser.get(address)
    for method in METHODS:
        browser.get(f"/review/methods/{method.id}")
    assert folder.record.elections()


def test_only_the_administrator_is_led_from_the_office_to_people(sign_in: SignIn) -> None:
    assert "What was refused" not in sign_in("manager").get("/office")
    assert "What was refused" in sign_in("administrator").get("/office")


def test_errors_are_pages_with_a_way_on(sign_in: SignIn) -> None:
    browser = sign_in("manager")
    for address in (
        "/nowhere",
        "/library/no-such-article",
        "/library/trees/none",
        "/incidents/none",
    ):
        assert "Back to the start" in browser.get(address, 404)


def test_a_database_that_cannot_be_read_is_told_as_such(
    sign_in: SignIn, folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = sign_in("manager")

    def broken(*_: object, **__: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(type(folder.record), "incidents", broken)
    assert "The database cannot be read just now" in browser.get("/incidents", 503)


def test_health_answers_without_sign_in(anonymous: Browser) -> None:
    assert '"ok"' in anonymous.get("/health")


@pytest.mark.parametrize(
    ("role", "home"),
    [("hotline", "/calls"), ("rover", "/rounds"), ("manager", "/now"), ("author", "/library"),
     ("canvass", "/review"), ("administrator", "/office"), ("reader", "/now")],
)  # fmt: skip
def test_each_role_begins_where_its_work_is(sign_in: SignIn, role: str, home: str) -> None:
    browser = sign_in(role)
    assert browser.client.get("/").headers["Location"] == home


def test_a_places_story_has_its_devices_own_logs_beside_the_cases(
    sign_in: SignIn, folder: Folder, case: str, tmp_path: Path
) -> None:
    at = now().isoformat()
    event = {"@type": "EventLogging.Event", "TimeStamp": at, "Type": "device"}
    events = [
        event | {"Id": "paper-jam", "Sequence": "1", "Disposition": "failure"},
        *(
            event | {"Id": "ballot-cast", "Sequence": str(n), "Disposition": "success"}
            for n in (2, 3)
        ),
    ]
    device = {"@type": "EventLogging.Device", "Id": "SC-1", "Event": events}
    log = {"@type": "EventLogging.ElectionEventLog", "GeneratedTime": at, "Device": [device]}
    path = tmp_path / "log.json"
    path.write_text(json.dumps(log))
    take(folder, path, actor=ADMIN, election="now")
    assert case
    page = sign_in("manager").get("/places/P1")
    assert "paper-jam" in page
    assert "2 events about ballots in this hour" in page
    assert "ballot-cast" not in page
    assert "reported" in page
