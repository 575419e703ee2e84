"""Fix rates of articles, counted by hand on a few invented cases."""

from __future__ import annotations

import pytest

from kb.incidents.lists import OUTCOMES
from kb.review.texts.fixes import FIXED, of_articles, picks
from tests.incidents.telling import at
from tests.review.stories import case


def test_an_article_is_counted_once_a_case_and_only_ended_cases_make_its_share() -> None:
    cases = [
        case("a", opened=["jam", "jam"], outcome="fixed-by-phone"),
        case("b", opened=["jam", "smoke"], outcome="fixed-on-site"),
        case("c", opened=["jam"], outcome="device-swapped"),
        case("d", opened=["jam"]),
        case("e", outcome="fixed-by-phone"),
    ]
    jam, smoke = of_articles(cases).values()
    assert (jam.slug, jam.opened, jam.last) == ("jam", 4, 1)
    assert jam.fixed is not None
    assert (jam.fixed.count, jam.fixed.of, jam.fixed.too_few) == (2, 3, True)
    assert (smoke.slug, smoke.opened, smoke.last) == ("smoke", 1, 1)


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_which_outcomes_are_a_fix(outcome: str) -> None:
    found = of_articles([case("a", opened=["jam"], outcome=outcome)])
    if outcome == "duplicate":
        assert found == {}
        return
    assert found["jam"].fixed is not None
    assert (found["jam"].fixed.count == 1) is (outcome in FIXED)


def test_fixed_outcomes_are_three() -> None:
    assert {"fixed-by-phone", "fixed-on-site", "contingency-then-fixed"} == FIXED
    assert set(OUTCOMES) > FIXED


def test_an_article_opened_in_open_cases_alone_has_no_share() -> None:
    assert of_articles([case("a", opened=["jam"])])["jam"].fixed is None


def test_picks_say_which_words_led_where_and_what_mended_it() -> None:
    story = case("a", opened=[("jam", "stuck"), ("smoke", "smells")], outcome="fixed-by-phone")
    found = picks([story, case("b", opened=[("jam", "stuck")], outcome="duplicate")])
    assert [(one.words, one.slug, one.fixed, one.case) for one in found] == [
        ("stuck", "jam", False, "a"),
        ("smells", "smoke", True, "a"),
    ]
    assert found[0].at == at(1)
