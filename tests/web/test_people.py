"""People by page: accounts, links, the second step, tries, refusals; with ids of ASVS 5.0.0."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pyotp
import pytest
from flask import Flask
from werkzeug.test import TestResponse

from kb.base.clock import now
from kb.incidents.store.folder import Folder
from kb.library.article import Library
from kb.people import store
from kb.people.accounts import Account
from kb.people.passwords import hash_password
from kb.people.tries import PAIR
from kb.web.app import create_app
from kb.web.county import County
from tests.web.conftest import PASSWORD, Browser, SignIn

SECURE = "https://localhost"


@pytest.fixture
def head(sign_in: SignIn) -> Browser:
    browser = sign_in("administrator")
    browser.get("/office/people")
    return browser


def enter(browser: Browser, login: str, password: str, status: int = 303) -> str:
    browser.get("/sign-in")
    return browser.post("/sign-in", status, login=login, password=password)


def key_on(page: str) -> str:
    found = re.search(r'name="secret" value="([A-Z2-7]{32})"', page)
    assert found
    return found.group(1)


def test_a_person_is_added_linked_changed_disabled(
    head: Browser, folder: Folder, anonymous: Browser
) -> None:
    head.get("/office/people/new")
    head.post("/office/people/new", 422, login="a b", name="", phone="?")
    for expected in ("is not an id", "Type the person", "Tick at least one role", "phone number"):
        assert expected in head.page
    head.post(
        "/office/people/new", login="new.one", name="New One", roles=["rover"], zone="North",
        phone="555-0133",
    )  # fmt: skip
    head.post("/office/people/new", 422, login="new.one", name="Again", roles=["rover"])
    assert "is taken already" in head.page
    head.get("/office/people/new.one")
    head.post("/office/people/new.one/link", 200)
    link = re.search(r'value="(http://[^"]+/first-password/[^"]+)"', head.page)
    assert link
    anonymous.get(link.group(1))
    anonymous.post(link.group(1), 422, password="short", again="short")
    anonymous.post(link.group(1), password="seven green kettles", again="seven green kettles")
    enter(anonymous, "new.one", "seven green kettles")
    assert "My stops" in anonymous.get("/rounds")
    head.post("/office/people/new.one/disable", 400, reason="")
    head.post("/office/people/new.one/disable", reason="left")
    assert "/sign-in" in (anonymous.get("/rounds", 303) or anonymous.location)
    assert "left" in head.get("/office/people/new.one")
    head.post("/office/people/new.one/enable", reason="is back")
    assert not folder.people.get("new.one").disabled


def test_the_last_administrator_cannot_be_disabled(head: Browser, folder: Folder) -> None:
    head.post("/office/people/administrator/disable", 400, reason="x")
    assert not folder.people.get("administrator").disabled


def test_slips_carry_a_link_for_everybody_without_a_password(head: Browser, folder: Folder) -> None:
    folder.people.put(Account("fresh", "Fresh One", frozenset({"hotline"})))
    head.get("/office/people")
    head.post("/office/people/slips", 200)
    assert "Fresh One" in head.page
    assert "Your login" in head.page
    assert "<svg" in head.page
    assert "/first-password/" in head.page


def test_a_slip_for_one_person_ends_their_older_link(head: Browser, folder: Folder) -> None:
    """ASVS 6.4.1."""
    old = folder.people.make_link("rover", now())
    head.get("/office/people/rover")
    head.post("/office/people/rover/slip", 200)
    assert folder.people.link_login(old, now()) is None
    printed = re.search(r"/first-password/([^<]+)<", head.page)
    assert printed
    assert folder.people.link_login(printed.group(1), now()) == "rover"
    head.post("/office/people/rover/disable", reason="left")
    head.post("/office/people/rover/slip", 400)


def test_too_many_wrong_passwords_must_wait_and_the_right_one_too(
    anonymous: Browser, folder: Folder
) -> None:
    """ASVS 6.3.1."""
    for _ in range(PAIR.most):
        enter(anonymous, "hotline", "not the password", 403)
    enter(anonymous, "hotline", PASSWORD, 429)
    assert "Try again at" in anonymous.page
    told = {one.rule for one in folder.people.traces.refusals()}
    assert told == {"wrong login or password", "too many tries"}


def test_a_wrong_login_and_a_wrong_password_are_told_alike(anonymous: Browser) -> None:
    """ASVS 6.3.8."""
    pages = []
    for login in ("hotline", "nobody.here"):
        enter(anonymous, login, "not the password", 403)
        pages.append(re.sub(r'value="[^"]*"', "", anonymous.page))
    assert pages[0] == pages[1]


def test_fields_for_passwords_hide_them_and_take_what_is_pasted(anonymous: Browser) -> None:
    """ASVS 6.2.6 and 6.2.7: type=password, and nothing that stops pasting or a manager."""
    page = anonymous.get("/sign-in")
    assert 'type="password" autocomplete="current-password"' in page
    assert "onpaste" not in page


def test_the_second_step_is_set_up_and_asked_for(
    anonymous: Browser, app: Flask, folder: Folder
) -> None:
    """ASVS 6.3.3: nothing is open to a manager before the code."""
    assert enter(anonymous, "manager", PASSWORD).startswith("/second-factor")
    page = anonymous.get("/second-factor")
    secret = key_on(page)
    assert "<svg" in page
    anonymous.get("/now", 303)
    assert anonymous.location.startswith("/second-factor")
    anonymous.client.post("/entries", json={"entries": []}, headers={"X-Form-Token": "x"})
    anonymous.get("/second-factor")
    anonymous.post("/second-factor", 403, secret=secret, code="000000")
    # The same key again: it was scanned already.
    assert key_on(anonymous.page) == secret
    anonymous.post("/second-factor", 200, secret=secret, code=pyotp.TOTP(secret).at(now()))
    recovery = re.findall(r"<li><code>([a-z0-9-]+)</code>", anonymous.page)
    assert len(recovery) == 10
    assert "Now" in anonymous.get("/now")
    # The next sign-in takes a recovery code, once.
    for status in (303, 403):
        other = Browser(app.test_client())
        enter(other, "manager", PASSWORD)
        other.get("/second-factor")
        other.post("/second-factor", status, code=recovery[0])
    assert "wrong code" in {one.rule for one in folder.people.traces.refusals()}


def test_half_signed_in_nothing_else_answers(anonymous: Browser, app: Flask) -> None:
    """ASVS 6.3.3."""
    enter(anonymous, "administrator", PASSWORD)
    for rule in app.url_map.iter_rules():
        if rule.endpoint in {"static", "health"} or rule.endpoint.startswith("signin."):
            continue
        address = re.sub(r"<[^>]+>", "x", rule.rule)
        method = "POST" if "POST" in (rule.methods or set()) else "GET"
        response = anonymous.client.open(address, method=method)
        assert response.status_code in {303, 401}, address
        if response.status_code == 303:
            assert "/second-factor" in response.headers["Location"]


def test_another_administrator_takes_a_lost_second_step_off(head: Browser, folder: Folder) -> None:
    """ASVS 6.4.4: identity is proven to a person; nobody does it for themselves."""
    secret = "A" * 32
    folder.people.factors.set_up("manager", secret, pyotp.TOTP(secret).at(now()), now())
    head.get("/office/people/manager")
    head.post("/office/people/administrator/factor", 403, reason="lost")
    head.post("/office/people/manager/factor", reason="phone lost")
    assert folder.people.factors.secret("manager") is None


def test_signing_out_ends_the_session_on_the_server(anonymous: Browser, app: Flask) -> None:
    """ASVS 7.4.1."""
    enter(anonymous, "hotline", PASSWORD)
    anonymous.get("/calls")
    cookie = anonymous.client.get_cookie("latchbook")
    assert cookie
    anonymous.post("/sign-out")
    again = app.test_client()
    again.set_cookie("latchbook", cookie.value)
    assert again.get("/calls").status_code == 303


def test_every_page_leads_to_signing_out(sign_in: SignIn) -> None:
    """ASVS 7.4.4."""
    for address in ("/calls", "/incidents", "/library", "/account"):
        assert "Sign out" in sign_in("hotline").get(address)


def test_a_new_session_has_a_new_token(anonymous: Browser) -> None:
    """ASVS 7.2.4: no token of before the sign-in is taken over."""
    anonymous.client.set_cookie("latchbook", "chosen-by-somebody-else")
    enter(anonymous, "hotline", PASSWORD)
    cookie = anonymous.client.get_cookie("latchbook")
    assert cookie
    assert cookie.value != "chosen-by-somebody-else"


def test_signing_in_again_ends_the_session_of_before(anonymous: Browser, folder: Folder) -> None:
    """ASVS 7.2.4: the token in use is worth nothing afterwards."""
    enter(anonymous, "hotline", PASSWORD)
    before = anonymous.client.get_cookie("latchbook")
    assert before
    anonymous.get("/sign-in")
    page = anonymous.page.split("<main")[1]
    token = re.search(r'name="form_token" value="([^"]+)"', page)
    assert token
    fields = {"form_token": token.group(1), "login": "hotline", "password": PASSWORD}
    assert anonymous.client.post("/sign-in", data=fields).status_code == 303
    assert folder.people.session(before.value, now()) is None


def test_a_one_time_link_lets_in_again_who_tried_too_often(
    anonymous: Browser, folder: Folder
) -> None:
    """ASVS 6.1.1: what the page says when there were too many tries is true."""
    for _ in range(PAIR.most):
        folder.people.traces.count_try("hotline", "127.0.0.1", now())
    enter(anonymous, "hotline", PASSWORD, 429)
    address = f"/first-password/{folder.people.make_link('hotline', now())}"
    anonymous.get(address)
    anonymous.post(address, password="seven green kettles", again="seven green kettles")
    enter(anonymous, "hotline", "seven green kettles")


def test_a_one_time_link_that_another_used_up_in_between_changes_nothing(
    anonymous: Browser, folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ASVS 6.4.1."""
    token = folder.people.make_link("hotline", now())
    anonymous.get(f"/first-password/{token}")

    def used_up_meanwhile(password: str, near: Sequence[str] = ()) -> str:
        folder.store.write(lambda database: database.execute("DELETE FROM links").rowcount)
        return hash_password(password, near)

    monkeypatch.setattr(store, "hash_password", used_up_meanwhile)
    words = "seven green kettles"
    anonymous.post(f"/first-password/{token}", 404, password=words, again=words)
    assert "This link was used" in anonymous.page
    assert folder.people.sign_in("hotline", PASSWORD, now(), 8)


@pytest.mark.parametrize("secret", ["", "A", "not base32 !"])
def test_a_key_that_is_none_is_answered_like_a_wrong_code(anonymous: Browser, secret: str) -> None:
    enter(anonymous, "manager", PASSWORD)
    anonymous.get("/second-factor")
    anonymous.post("/second-factor", 403, secret=secret, code="１２３４５６")
    assert len(key_on(anonymous.page)) == 32


def test_the_cookie_is_out_of_reach_of_scripts(anonymous: Browser) -> None:
    """ASVS 3.3.4 and 3.3.2: HttpOnly, and not sent along from other sites' forms."""
    anonymous.get("/sign-in")
    response = anonymous.client.post(
        "/sign-in",
        data={"form_token": anonymous._token(), "login": "hotline", "password": PASSWORD},
    )
    (cookie,) = [
        one for one in response.headers.getlist("Set-Cookie") if one.startswith("latchbook=")
    ]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_behind_tls_the_cookie_is_bound_to_the_host_and_tries_to_the_told_address(
    folder: Folder, library: Library
) -> None:
    """ASVS 3.3.1 and 3.3.3: Secure, and `__Host-`, which browsers tie to this host."""
    settings = folder.settings.model_copy(update={"trusted_proxy": True})
    app = create_app(County(replace(folder, settings=settings), library, None))
    browser = Browser(app.test_client())

    def sign_in(password: str, forwarded: str) -> TestResponse:
        headers = {"X-Forwarded-For": forwarded, "X-Forwarded-Proto": "https"}
        browser.page = browser.client.get("/sign-in", headers=headers, base_url=SECURE).text
        fields = {"form_token": browser._token(), "login": "hotline", "password": password}
        return browser.client.post("/sign-in", data=fields, headers=headers, base_url=SECURE)

    for number in range(PAIR.most):
        # What a client says itself stands before what the proxy adds, and does not count.
        assert sign_in("wrong", f"203.0.113.{number}, 198.51.100.1").status_code == 403
    assert sign_in(PASSWORD, "203.0.113.99, 198.51.100.1").status_code == 429
    cookies = sign_in(PASSWORD, "198.51.100.2").headers.getlist("Set-Cookie")
    assert [one.split("=")[0] for one in cookies] == ["__Host-latchbook", "__Host-latchbook-form"]
    assert all({"Secure", "HttpOnly", "Path=/"} <= set(one.split("; ")) for one in cookies)
    assert "SameSite=Lax" in cookies[0]
    assert not any("Domain" in one for one in cookies)


def test_one_changes_ones_own_password_with_the_present_one(
    anonymous: Browser, folder: Folder
) -> None:
    """ASVS 6.2.2 and 6.2.3."""
    enter(anonymous, "hotline", PASSWORD)
    anonymous.get("/account")
    new = "seven green kettles"
    anonymous.post("/account/password", 400, old="not it at all", new=new, again=new)
    assert [one.rule for one in folder.people.traces.refusals()] == ["wrong present password"]
    anonymous.get("/account")
    anonymous.post("/account/password", 400, old=PASSWORD, new=new, again="else")
    anonymous.get("/account")
    anonymous.post("/account/password", old=PASSWORD, new=new, again=new)
    anonymous.get("/calls", 303)
    enter(anonymous, "hotline", new)
    assert folder.people.traces.changes("hotline")[0].what == "password set"


def test_what_was_typed_as_a_login_is_not_kept(anonymous: Browser, folder: Folder) -> None:
    """ASVS 6.3.1: a refusal tells the login only where there is such an account."""
    enter(anonymous, "a password typed one field too early", "x", 403)
    enter(anonymous, "hotline", "not the password", 403)
    assert {one.login for one in folder.people.traces.refusals()} == {"-", "hotline"}


def test_another_address_told_by_the_sender_gives_no_more_tries(anonymous: Browser) -> None:
    """ASVS 6.3.1: forwarded addresses are taken from the county's own proxy only."""
    for number in range(PAIR.most + 1):
        anonymous.get("/sign-in")
        fields = {"form_token": anonymous._token(), "login": "hotline", "password": "wrong"}
        headers = {"X-Forwarded-For": f"198.51.100.{number}"}
        answer = anonymous.client.post("/sign-in", data=fields, headers=headers)
        assert answer.status_code == (429 if number == PAIR.most else 403)


def test_an_administrator_never_types_a_password_of_others(head: Browser) -> None:
    """ASVS 6.4.6."""
    for address in ("new", "rover", "rover/change"):
        assert 'type="password"' not in head.get(f"/office/people/{address}")


def test_every_kind_of_refusal_is_kept(sign_in: SignIn, anonymous: Browser, folder: Folder) -> None:
    hotline, head = sign_in("hotline"), sign_in("administrator")
    anonymous.client.post("/calls")
    hotline.client.post("/calls")
    fields = {"form_token": hotline.form_token}
    hotline.client.post("/calls", data=fields, headers={"Sec-Fetch-Site": "cross-site"})
    hotline.client.get("/office/people")
    head.client.post(
        "/office/people/administrator/factor", data={"form_token": head.form_token, "reason": "x"}
    )
    told = {(one.login, one.rule) for one in folder.people.traces.refusals()}
    assert told == {
        ("-", "signed out"),
        ("hotline", "form token"),
        ("hotline", "other site"),
        ("hotline", "manage people"),
        ("administrator", "not by this person"),
    }


def test_a_refusal_is_kept_for_the_administrator(
    sign_in: SignIn, head: Browser, folder: Folder
) -> None:
    sign_in("hotline").get("/office", 403)
    (one,) = folder.people.traces.refusals()
    assert (one.login, one.rule, one.address) == ("hotline", "see the office", "/office")
    assert one.place == "127.0.0.0/24"
    assert now() - one.at < timedelta(minutes=1)
    assert "see the office" in head.get("/office/refusals")
    assert "manage people" in head.get("/office/roles")
