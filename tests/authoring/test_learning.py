"""From searches and picks to the authors' lists. All words and numbers are invented."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kb.authoring.learning import (
    LONGEST_PHRASE,
    Pick,
    Search,
    found_nothing,
    key,
    led_to,
    near,
    offered,
    other_words,
)
from tests.authoring.telling import NOW


def pick(words: str, slug: str = "jam", *, fixed: bool = False, case: str = "c", day: int = 0):
    return Pick(words, slug, NOW + timedelta(days=day), fixed, case)


def search(words: str, *, fits: bool = False, why="nothing", case: str = "", day: int = 0):
    return Search(words, fits, "jam", "hotline", NOW + timedelta(days=day), case, why)


def test_the_same_words_in_other_endings_and_order_are_one_line() -> None:
    said = [pick("ballots jammed"), pick("Jamming ballot!", fixed=True), pick("no power", "off")]
    led = led_to(said)
    assert [(one.times, one.fixed) for one in led["jam"]] == [(2, 1)]
    assert led["off"][0].words == "no power"


def test_the_usual_wording_is_shown_and_of_equals_the_latest() -> None:
    said = [pick("jams"), pick("jam", day=1), pick("jam", day=2), pick("jammed", day=3)]
    assert led_to(said)["jam"][0].words == "jam"
    assert led_to(said[:2])["jam"][0].words == "jam"


def test_words_without_a_word_are_left_out() -> None:
    assert led_to([pick("?!")]) == {}
    assert found_nothing([search("...")], []) == []


@pytest.mark.parametrize(
    ("fits", "why", "listed"),
    [
        (False, "nothing", True),
        (True, "nothing", False),
        (True, "again", True),
        (True, "new", True),
    ],
)
def test_a_search_that_fitted_and_went_unused_is_no_miss(
    fits: bool, why: str, listed: bool
) -> None:
    assert bool(found_nothing([search("gate shut", fits=fits, why=why)], [])) is listed


def test_misses_come_most_frequent_first_with_the_article_their_case_came_to() -> None:
    searches = [
        search("gate shut", case="c1"),
        search("shut gates", case="c2", why="new"),
        search("smells odd", case="c3", why="again", day=3),
    ]
    picks = [pick("burning", "smoke", case="c3"), pick("smell", "heat", case="c3", day=4)]
    found = found_nothing(searches, picks)
    assert [(one.words, one.times, one.opened) for one in found] == [
        ("shut gates", 2, ""),
        ("smells odd", 1, "heat"),
    ]
    assert found[0].whys == {"nothing", "new"}


def test_misses_that_were_dealt_with_are_gone() -> None:
    searches = [search("gate shut"), search("coffee is cold")]
    accepted, set_aside = [key("gates shut")], [key("cold is coffee")]
    assert [one.words for one in found_nothing(searches, [], accepted)] == ["coffee is cold"]
    assert [one.words for one in found_nothing(searches, [], [], set_aside)] == ["gate shut"]


def test_words_near_a_phrase_are_no_news_and_the_surest_come_first() -> None:
    heard = [
        one
        for said in led_to(
            [
                pick("it ate my ballot and went quiet"),
                pick("eats paper whole", fixed=True),
                pick("ballot is stuck in the slot"),
                pick("x " * LONGEST_PHRASE),
                pick("no light", "gone"),
                pick("do not offer this again"),
            ]
        ).values()
        for one in said
    ]
    found = offered(
        heard, {"jam": ["ballots stuck in the slot"]}, {"jam": {key("do not offer this again")}}
    )
    assert [one.words for one in found] == ["eats paper whole", "it ate my ballot and went quiet"]


def test_near_is_a_share_of_common_stems() -> None:
    assert near(key("ballot stuck in slot"), [key("the ballots stuck in slot")])
    assert not near(key("ballot stuck"), [key("ballot stuck in the scanner slot")])
    assert not near(key("stuck"), [frozenset()])


@pytest.mark.parametrize(
    ("before", "after", "anew"),
    [
        ("it is stuck", "the lid is cracked", True),
        ("it is stuck", "it is stuck in the scanner", False),
        ("ballot jamed in slot now", "ballot jam in slot now", True),
        ("ballots jam in slot now", "ballot jammed in slot now", False),
        ("", "it is stuck", False),
        ("it is stuck", "", False),
    ],
)
def test_a_second_search_is_one_with_other_words(before: str, after: str, anew: bool) -> None:
    assert other_words(before, after) is anew
