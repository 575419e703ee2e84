"""The worksheet's pages: fill in, sign, freeze, change by notice; as a file and on paper."""

from __future__ import annotations

import html
import io
import re
from dataclasses import replace

import pytest
from flask import Flask

from kb.authoring.sheet import Sheet, parse_sheet, sheet_yaml
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from kb.people.accounts import Account
from kb.web.county import EXTENSION, County
from tests.web.conftest import PASSWORD, Browser, SignIn
from tests.web.writing import approve, hand_in, revision_of


@pytest.fixture
def manager(sign_in: SignIn) -> Browser:
    return sign_in("manager")


@pytest.fixture
def still(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    """The library is not read anew, which takes a while: for what the worksheet's pages show."""
    assert app
    monkeypatch.setattr(County, "renew", lambda _: None)


def fields(browser: Browser) -> dict[str, str]:
    """The hidden fields of the page at hand."""
    seen = re.search(r'name="seen" value="(\d+)"', browser.page)
    return {"election": "now", "seen": seen.group(1) if seen else ""}


def filled(browser: Browser, **typed: str) -> str:
    browser.get("/worksheet/fill")
    given = {name.replace("_", "-"): value for name, value in typed.items()}
    return browser.post("/worksheet/fill", **fields(browser), **given)


def signed(browser: Browser, **typed: str) -> None:
    browser.get(filled(browser, **typed))
    signature = {"by": "Dana Quill", "office": "County counsel", "date": "2026-10-01"}
    browser.post("/worksheet/sign", **fields(browser), **signature)


# Filling in, signing, freezing, changing


def test_an_empty_sheet_presumes_nothing(manager: Browser, library: Library) -> None:
    page = manager.get("/worksheet/fill")
    assert " checked" not in page
    count = len(library.rules.questions)
    assert page.count('value="none"') == count
    assert f"{count} of {count} are not answered" in page
    assert "No worksheet is signed" in manager.get("/worksheet")


def test_a_draft_shows_what_it_changes_and_changes_nothing(
    manager: Browser, sign_in: SignIn
) -> None:
    manager.get(filled(manager, answer_restart_scanner="yes", note_restart_scanner="Procedure 4.2"))
    assert "not answered → yes" in manager.page
    assert "Procedure 4.2" in manager.page
    assert "One restart is allowed when the hotline agrees." in manager.page
    assert 'href="/library/on-battery"' in manager.page
    assert "One restart is allowed" not in sign_in("rover").get("/library/on-battery")
    page = manager.get("/worksheet/fill")
    assert page.count(" checked") == 1
    assert 'value="Procedure 4.2"' in page


def test_a_signed_sheet_is_in_force_at_once_and_everyone_may_read_it(
    manager: Browser, sign_in: SignIn
) -> None:
    before = sign_in("hotline").get("/library/on-battery")
    assert "Not set: ask the office" in before
    signed(manager, answer_restart_scanner="yes", answer_borrow_equipment="no")
    after = sign_in("hotline").get("/library/on-battery")
    assert "One restart is allowed" in after
    assert "May poll workers restart a scanner once" not in after
    # "No" says nothing: neither the text nor a question to the office.
    after = sign_in("hotline").get("/library/bod-faint-print")
    assert "Another place may lend you" not in after
    assert "May a place lend a device" not in after
    for role in ("hotline", "rover", "author", "reader"):
        page = sign_in(role).get("/worksheet")
        assert "Signed by <strong>Dana Quill</strong>, County counsel, 2026-10-01" in page
        assert "/worksheet/fill" not in page


@pytest.mark.usefixtures("still")
def test_an_answer_can_be_taken_back(manager: Browser) -> None:
    signed(manager, answer_restart_scanner="yes")
    manager.get(filled(manager, answer_restart_scanner="none"))
    assert "yes → not answered" in manager.page
    assert "these texts are left out" in manager.page


def test_a_signature_needs_all_three(manager: Browser) -> None:
    manager.get(filled(manager, answer_restart_scanner="yes"))
    manager.post("/worksheet/sign", 422, **fields(manager), by="Dana Quill", date="soon")
    assert "Write the signer&#39;s office" in manager.page
    assert "such as 2026-10-01" in manager.page
    assert 'value="Dana Quill"' in manager.page
    assert "No worksheet is signed" in manager.get("/worksheet")


def test_faults_of_the_form_stand_beside_what_was_typed(manager: Browser) -> None:
    manager.get("/worksheet/fill")
    typed = {"word-4": "<b>", "answer-restart-scanner": "yes", "note-restart-scanner": "4.2"}
    manager.post("/worksheet/fill", 422, **fields(manager), **typed)
    assert 'href="#word-4"' in manager.page
    assert 'value="&lt;b&gt;"' in manager.page
    assert 'value="4.2"' in manager.page
    assert manager.page.count(" checked") == 1


def test_who_saves_over_another_is_told_and_loses_nothing(sign_in: SignIn) -> None:
    first, second = sign_in("manager"), sign_in("administrator")
    first.get("/worksheet/fill")
    seen = fields(first)
    filled(second, answer_restart_scanner="no")
    first.post("/worksheet/fill", 409, **seen, **{"answer-restart-scanner": "yes"})
    assert "last by administrator" in first.page
    assert re.search(r'answer-restart-scanner" value="yes" checked', first.page)
    first.post("/worksheet/fill", **fields(first), **{"answer-restart-scanner": "yes"})


def test_freezing_and_a_notice_by_two_people(sign_in: SignIn, folder: Folder) -> None:
    manager, second = sign_in("manager"), sign_in("administrator")
    signed(manager, answer_restart_scanner="yes")
    manager.get("/worksheet")
    manager.post("/worksheet/freeze", **fields(manager))
    page = manager.get("/worksheet")
    frozen = folder.worksheet.worksheet("now").frozen
    assert frozen is not None
    assert frozen.library in page
    assert folder.worksheet.worksheet("now").sheet.hash in page
    manager.get(filled(manager, answer_restart_scanner="no"))
    assert "/worksheet/sign" not in manager.page
    manager.post("/worksheet/ask", 422, **fields(manager))
    notice = manager.post("/worksheet/ask", **fields(manager), reason="Two froze this morning")
    manager.get(notice)
    assert 'value="approve"' not in manager.page
    manager.post(notice, 403, do="approve")
    assert "One restart is allowed" in manager.get("/library/on-battery")
    second.get("/worksheet")
    assert notice in second.page
    second.get(notice)
    assert "Two froze this morning" in second.page
    second.post(notice, do="approve")
    assert "One restart is allowed" not in manager.get("/library/on-battery")
    page = sign_in("reader").get("/worksheet")
    assert "In force by an approved notice" in page
    assert "Dana Quill" in page


@pytest.mark.usefixtures("still")
def test_a_notice_is_declined_with_a_reason(sign_in: SignIn, folder: Folder) -> None:
    manager, second = sign_in("manager"), sign_in("administrator")
    signed(manager, answer_restart_scanner="yes")
    manager.get("/worksheet")
    manager.post("/worksheet/freeze", **fields(manager))
    manager.get(filled(manager, answer_restart_scanner="no"))
    notice = manager.post("/worksheet/ask", **fields(manager), reason="Why not")
    second.get(notice)
    second.post(notice, 422, do="decline")
    second.post(notice, do="decline", reason="Ask counsel first")
    page = manager.get("/worksheet")
    assert "Ask counsel first" in page
    assert "In force by an approved notice" not in page
    assert folder.worksheet.answers("now") == {"restart-scanner": True}


@pytest.mark.usefixtures("still")
def test_after_the_freeze_a_changed_library_is_named(manager: Browser, app: Flask) -> None:
    signed(manager, answer_restart_scanner="yes")
    manager.get("/worksheet")
    manager.post("/worksheet/freeze", **fields(manager))
    assert "from what the election was frozen with" not in manager.get("/worksheet")
    county: County = app.extensions[EXTENSION]
    shelf = county._shelf
    article = replace(shelf.library.articles["on-battery"], hash="0" * 64)
    library = replace(shelf.library, articles={**shelf.library.articles, "on-battery": article})
    county._shelf = replace(shelf, library=library)
    assert "differs from what the election was frozen with: on-battery" in " ".join(
        manager.get("/worksheet").split()
    )
    county._shelf = shelf


def test_an_election_that_is_not_there_and_none_at_all(manager: Browser) -> None:
    manager.get("/worksheet?election=none-such", 404)
    assert "There is no election" in manager.page
    manager.get("/worksheet/kept/x", 404)
    manager.get("/worksheet/notices/x", 404)


# Files and paper


def test_a_downloaded_sheet_is_uploaded_again(manager: Browser, library: Library) -> None:
    text = manager.get("/worksheet/file")
    assert text.startswith("election: now\n")
    text = text.replace("  restart-scanner:\n", "  restart-scanner: yes\n")
    manager.get("/worksheet/fill")
    file = (io.BytesIO(text.encode()), "sheet.yaml")
    manager.get(manager.post("/worksheet/upload", **fields(manager), file=file))
    assert "not answered → yes" in manager.page
    sheet, _ = parse_sheet(manager.get("/worksheet/file"), "a", library.rules.questions)
    assert sheet == Sheet("now", {"restart-scanner": True})


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"election: now\nanswers:\n  restart-scaner: yes\n  clean-reader: so\n", "sheet.yaml:3"),
        (b"election: spring\n", "is for the election &#39;spring&#39;"),
        (b"\xff\xfe", "is not UTF-8 text"),
    ],
)
def test_a_faulty_file_is_told_in_full_and_not_taken(
    manager: Browser, folder: Folder, content: bytes, told: str
) -> None:
    manager.get("/worksheet/fill")
    status = 422 if b"scaner" in content else 400
    file = (io.BytesIO(content), "sheet.yaml")
    manager.post("/worksheet/upload", status, **fields(manager), file=file)
    assert told in manager.page
    if status == 422:
        assert "did you mean &#39;restart-scanner&#39;" in manager.page
        assert "sheet.yaml:4" in manager.page
    assert folder.worksheet.worksheet("now").state == "empty"


@pytest.mark.usefixtures("still")
def test_a_kept_sheet_is_the_file_that_its_hash_is_of(
    manager: Browser, sign_in: SignIn, folder: Folder
) -> None:
    signed(manager, answer_restart_scanner="yes")
    sheet = folder.worksheet.worksheet("now").sheet
    reader = sign_in("reader")
    link = re.search(r'href="(/worksheet/kept/\d+)"', reader.get("/worksheet"))
    assert link
    assert reader.get(link.group(1)) == sheet_yaml(sheet)
    assert sheet.hash in reader.page
    reader.get("/worksheet/kept/1", 404)


def test_the_paper_has_every_question_boxes_and_lines_to_sign(
    manager: Browser, library: Library
) -> None:
    filled(manager, answer_restart_scanner="yes")
    page = html.unescape(manager.get("/worksheet/paper"))
    assert all(question in page for question in library.rules.questions.values())
    assert page.count('class="box"') + 1 == 2 * len(library.rules.questions)
    assert page.count('class="box marked"') == 1
    for line in ("Signature", "Office", "Date"):
        assert f'<span class="term">{line}</span>' in page


def test_after_the_freeze_a_change_is_a_managers_notice_with_a_reason(
    sign_in: SignIn, folder: Folder
) -> None:
    manager, author = sign_in("manager"), sign_in("author")
    signed(manager, answer_restart_scanner="yes")
    manager.get("/worksheet")
    manager.post("/worksheet/freeze", **fields(manager))
    folder.people.put(Account("second", "Second Author", frozenset({"author"})))
    folder.people.set_password("second", PASSWORD)
    address = hand_in(author, "phrases:\n", "phrases:\n  - a turnip in the plug\n", "on-battery")
    other = Browser(manager.client.application.test_client())
    other.get("/sign-in")
    other.post("/sign-in", login="second", password=PASSWORD)
    approve(other, address, 422)
    assert "only a manager may let a change into force" in other.page
    approve(manager, address, 422)
    assert "Say why this cannot wait" in manager.page
    manager.post(
        f"{address}/decide", do="approve", revision=revision_of(manager.page), reason="wrong plug"
    )
    assert "wrong plug" in manager.get(manager.location)
