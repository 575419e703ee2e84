"""The line's page: what is known is filled in, what is missing is asked for."""

from __future__ import annotations

from tests.web.conftest import SignIn


def test_two_scanners_one_out_is_one_sentence(sign_in: SignIn) -> None:
    desk = sign_in("hotline")
    # Trade values, 6.11: 140 voters an hour, two scanners of 100 an hour, one out 45 minutes.
    page = desk.get("/calls/line?arrivals=140&seconds=36&up=1&whole=2&minutes=45")
    assert "about 30 in line when it works again" in page
    assert "longest wait of about 18 minutes" in page
    assert "no line 30 minutes later" in page


def test_what_is_known_of_a_place_is_filled_in(sign_in: SignIn) -> None:
    page = sign_in("lead").get("/calls/line?place=P1")
    assert 'name="whole" class="short" inputmode="numeric" autocomplete="off" value="1"' in page
    assert 'name="up" class="short" inputmode="numeric" autocomplete="off" value="0"' in page


def test_all_that_is_missing_or_wrong_is_said_at_once(sign_in: SignIn) -> None:
    page = sign_in("hotline").get("/calls/line?arrivals=many&seconds=0&up=3&whole=2", 422)
    for expected in ("how many voters come", "how many seconds", "in how many minutes"):
        assert expected in page
    page = sign_in("hotline").get("/calls/line?arrivals=9&seconds=9&up=3&whole=2&minutes=9", 422)
    assert "More devices work now" in page


def test_a_line_that_never_clears_says_so(sign_in: SignIn) -> None:
    page = sign_in("hotline").get("/calls/line?arrivals=300&seconds=36&up=0&whole=1&minutes=30")
    assert "will not clear by itself" in page
