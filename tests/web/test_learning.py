"""What callers said becomes phrases: through the pages, without scripts. All words are invented."""

from __future__ import annotations

import html

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store.folder import Folder
from kb.people.accounts import Account
from tests.web.conftest import Browser, SignIn

BOARD = "/library/learning"
# Words that no article has, so that nothing fits.
ODD = "zorple wibbles quonk"
SLUG = "smoke-smell-heat"


@pytest.fixture
def author(sign_in: SignIn) -> Browser:
    return sign_in("author")


@pytest.fixture
def desk(sign_in: SignIn) -> Browser:
    return sign_in("hotline")


def begin(desk: Browser, words: str = "") -> str:
    desk.get("/calls")
    call = desk.post("/calls")
    if words:
        desk.post(f"{call}/notes", words=words)
    desk.get(call)
    return call


def finish(desk: Browser, call: str, **fields: str) -> None:
    desk.post(f"{call}/finish", **{"effect": "none", "way": "open", **fields})


def withhold(folder: Folder, case: str, told: str) -> None:
    manager = Account("manager", "Manager Person", frozenset({"manager"}))
    entry = {
        "id": new_id(), "election": "now", "incident": case, "kind": "text.withheld",
        "happened": format_instant(now()), "body": {"event": told, "reason": "names a voter"},
    }  # fmt: skip
    assert [receipt.state for receipt in folder.record.take([entry], manager)] == ["new"]


def kept(folder: Folder) -> list[tuple[str, str]]:
    return [(one.words, one.why) for one in folder.learning.searches()]


def accept(browser: Browser, words: str, slug: str = SLUG, status: int = 303) -> None:
    browser.get(BOARD)
    browser.post(f"{BOARD}/accept", status, words=words, slug=slug, offered_for="")


def test_an_accepted_phrase_works_at_once(author: Browser, desk: Browser, folder: Folder) -> None:
    call = begin(desk, ODD)
    assert "Nothing fits these words well" in desk.page
    finish(desk, call)
    page = author.get(BOARD)
    assert f"“{ODD}”" in page
    accept(author, ODD)
    found = desk.get(f"{call}/results?q={ODD}")
    assert "Nothing fits" not in found
    assert found.index(f"/pick/{SLUG}") == found.index("/pick/")
    assert ODD not in html.unescape(found), "phrases are searched, never shown"
    author.get(BOARD)
    assert f"“{ODD}”" not in author.page
    assert folder.learning.accepted() == {SLUG: (ODD,)}


def test_a_phrase_taken_back_no_longer_works_and_both_acts_are_kept(
    author: Browser, desk: Browser
) -> None:
    call = begin(desk)
    accept(author, ODD)
    page = author.get(f"{BOARD}/articles/{SLUG}")
    assert f"“{ODD}”" in page
    assert "Author Person" in page
    back = {"from": "article", "slug": SLUG, "words": ODD}
    author.post(f"{BOARD}/take-back", **back)
    assert author.location.endswith(f"/articles/{SLUG}")
    page = author.get(author.location)
    assert "None yet." in page
    assert f"“{ODD}” taken back by Author Person" in page
    assert "Nothing fits" in desk.get(f"{call}/results?q={ODD}")


def test_a_call_that_ends_without_an_article_keeps_its_words(desk: Browser, folder: Folder) -> None:
    call = begin(desk, ODD)
    assert kept(folder) == [], "not before the answerer moves on"
    finish(desk, call)
    assert kept(folder) == [(ODD, "nothing")]
    search = folder.learning.searches()[0]
    assert (search.fits, search.role) == (False, "hotline")
    assert search.case == call.rpartition("/")[2]


def test_results_as_they_are_typed_keep_nothing(desk: Browser, folder: Folder) -> None:
    call = begin(desk)
    desk.get(f"{call}/results?q={ODD}")
    desk.post(f"{call}/draft", 204, words=ODD)
    assert kept(folder) == []


def test_searching_again_with_other_words_keeps_the_first_and_offers_what_came_of_it(
    author: Browser, desk: Browser, folder: Folder
) -> None:
    call = begin(desk, ODD)
    desk.post(f"{call}/pick/{SLUG}", words="smoke from the scanner")
    assert kept(folder) == [(ODD, "again")]
    page = author.get(BOARD)
    assert "the case then came to this one" in page
    assert f'list="articles" value="{SLUG}"' in page


def test_going_on_typing_is_no_second_search(desk: Browser, folder: Folder) -> None:
    call = begin(desk, "it smells")
    desk.post(f"{call}/notes", words="it smells burnt near the scanner")
    assert kept(folder) == []


def test_a_pick_keeps_its_words_for_the_article_and_a_fix_puts_them_first(
    author: Browser, desk: Browser
) -> None:
    call = begin(desk)
    desk.post(f"{call}/pick/{SLUG}", words="the gizmo frothed over")
    finish(desk, call, way="close", outcome="fixed-by-phone", no_restored="only asked")
    page = author.get(BOARD)
    assert "“the gizmo frothed over”" in page
    assert "said 1 time, fixed after 1" in page
    page = author.get(f"{BOARD}/articles/{SLUG}")
    assert "1 of 1, too few to say" in page
    assert "1 case" in author.get(f"{BOARD}/articles/{SLUG}")
    assert "Read the article" in page


def test_logged_as_new_is_told_to_authors_and_once(
    author: Browser, desk: Browser, folder: Folder
) -> None:
    call = begin(desk, ODD)
    assert "Log it as new" in desk.page
    desk.post(f"{call}/new", words=ODD)
    assert desk.location.endswith("#ends")
    assert "Kept as new" in desk.get(desk.location)
    finish(desk, call)
    assert kept(folder) == [(ODD, "new")]
    assert "logged as new" in author.get(BOARD)


def test_where_nothing_fits_the_call_offers_the_trees_and_the_library(
    desk: Browser,
) -> None:
    call = begin(desk, ODD)
    assert f"{call}/tree/" in desk.page
    assert 'href="/library#all"' in desk.page
    page = desk.get(f"/library?q={ODD}")
    assert 'href="#trees"' in page
    assert 'id="trees"' in page


def test_library_searches_that_fit_nothing_are_kept_but_for_those_of_authors(
    author: Browser, desk: Browser, folder: Folder
) -> None:
    desk.get(f"/library?q={ODD}")
    desk.get(f"/library?q={ODD}")
    desk.get("/library?q=ballot+is+stuck+in+the+scanner+slot")
    author.get("/library?q=frumple+dax")
    assert kept(folder) == [(ODD, "nothing")]


def test_personal_words_are_nowhere(author: Browser, desk: Browser, folder: Folder) -> None:
    personal = "my name is Nora and the zorple is stuck"
    call = begin(desk)
    desk.post(f"{call}/pick/{SLUG}", words=personal)
    finish(desk, call)
    finish(desk, begin(desk, f"{personal} again"))
    assert kept(folder) == []
    assert "Nora" not in author.get(BOARD)
    assert "Nora" not in author.get(f"{BOARD}/articles/{SLUG}")
    accept(author, personal, status=400)
    assert "This looks like a name" in author.page
    assert folder.learning.accepted() == {}


def test_words_that_the_record_withholds_are_withheld_here_too(
    author: Browser, desk: Browser, folder: Folder
) -> None:
    call = begin(desk, ODD)
    desk.post(f"{call}/pick/{SLUG}", words="the gizmo frothed over")
    assert ODD in author.get(BOARD)
    assert "gizmo" in author.page
    case = call.rpartition("/")[2]
    for told in folder.record.events(incident=case):
        if "words" in told.body:
            withhold(folder, case, told.id)
    page = author.get(BOARD)
    assert ODD not in page
    assert "gizmo" not in page


def test_rude_words_are_for_authors_alone(author: Browser, desk: Browser, sign_in: SignIn) -> None:
    rude = "this damn zorple is rigged"
    finish(desk, begin(desk, rude))
    call = begin(desk)
    desk.post(f"{call}/pick/{SLUG}", words="the damn gizmo frothed")
    assert rude in author.get(BOARD)
    assert "the damn gizmo" in author.page
    accept(author, rude)
    assert rude in author.get(f"{BOARD}/articles/{SLUG}")
    lead = sign_in("lead")
    assert "damn" not in lead.get(BOARD)
    assert "1 line is left out here" in lead.page
    assert "damn" not in lead.get(f"{BOARD}/articles/{SLUG}")


def test_set_aside_is_not_offered_again_until_it_is_taken_back(
    author: Browser, desk: Browser
) -> None:
    finish(desk, begin(desk, ODD))
    author.get(BOARD)
    author.post(f"{BOARD}/set-aside", words=ODD, offered_for="", slug="")
    page = author.get(BOARD)
    assert page.count(f"“{ODD}”") == 1
    assert "Offer again" in page
    author.post(f"{BOARD}/take-back", slug="", words=ODD)
    assert "Offer again" not in author.get(BOARD)
    assert f"“{ODD}”" in author.page


def test_an_article_must_be_named(author: Browser, folder: Folder) -> None:
    for slug in ("", "no-such-article"):
        accept(author, ODD, slug, status=400)
        assert "Pick an article from the list" in author.page
    assert folder.learning.accepted() == {}


def test_a_script_is_answered_without_a_page(author: Browser) -> None:
    author.get(BOARD)
    answered = author.client.post(
        f"{BOARD}/accept",
        data={"form_token": author.form_token, "words": ODD, "slug": SLUG},
        headers={"X-Part": "1"},
    )
    assert (answered.status_code, answered.data) == (204, b"")


def test_the_figures_of_a_walk(author: Browser, desk: Browser, folder: Folder) -> None:
    call = begin(desk, "stuck")
    desk.get(f"{call}/tree/ballot-jam")
    step = desk.page.split('name="step" value="')[1].split('"')[0]
    answer = html.unescape(desk.page.split('name="answer" value="')[1].split('"')[0])
    desk.post(f"{call}/tree/ballot-jam", step=step, answer=answer)
    finish(desk, call, way="close", outcome="caller-lost", no_restored="cut off")
    assert folder.learning.searches() == [], "a walk is an answer of the library"
    page = author.get(f"{BOARD}/trees/ballot-jam")
    assert "Too few walks to compare" in page
    assert "ballot-jam" in author.get(f"{BOARD}/figures")
    assert "Nobody has walked this tree yet" in author.get(f"{BOARD}/trees/scanner-dead")


def test_links_lead_here_from_the_library_for_those_who_may(author: Browser, desk: Browser) -> None:
    for address in ("/library", f"/library/{SLUG}", "/library/trees/ballot-jam"):
        assert BOARD in author.get(address)
        assert BOARD not in desk.get(address)
