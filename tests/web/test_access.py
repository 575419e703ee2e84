"""Everything is closed unless opened: each route is listed with its permission, and held."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask

from kb.incidents.store.folder import Folder
from kb.people.roles import PERMISSIONS, ROLES
from kb.web.access import EVERYONE, HALF_SIGNED_IN, SIGNED_IN, permission_of
from tests.web.conftest import PASSWORD, Browser, SignIn

# Every route of the program and who it is open to. A new route fails here until it is listed.
ROUTES = {
    "static": EVERYONE,
    "health": EVERYONE,
    "signin.sign_in": EVERYONE,
    "signin.take_sign_in": EVERYONE,
    "signin.first_password": EVERYONE,
    "signin.take_first_password": EVERYONE,
    "signin.home": SIGNED_IN,
    "signin.sign_out": HALF_SIGNED_IN,
    "calls.board": "take calls",
    "calls.new_call": "take calls",
    "calls.places": "take calls",
    "calls.page": "take calls",
    "calls.results": "take calls",
    "calls.draft": "take calls",
    "calls.notes": "take calls",
    "calls.pick": "take calls",
    "calls.article": "take calls",
    "calls.tree": "take calls",
    "calls.answer": "take calls",
    "calls.finish": "take calls",
    "calls.log_as_new": "take calls",
    "rounds.stops": "work a stop",
    "rounds.stop": "work a stop",
    "rounds.task": "write down readings",
    "rounds.take_task": "write down readings",
    "rounds.tree": "work a stop",
    "accounting.board": "account for the record",
    "accounting.issue": "reconcile places",
    "accounting.account_form": "take calls",
    "accounting.shift": "write down readings",
    "accounting.state": "write down readings",
    "accounting.place_count": "account for the record",
    "accounting.take_count": "reconcile places",
    "decisions.decide": "decide",
    "decisions.take": "decide",
    "paper.new": "take calls",
    "paper.take": "take calls",
    "paper.pack": "take calls",
    "people.board": "manage people",
    "people.new": "manage people",
    "people.add": "manage people",
    "people.person": "manage people",
    "people.change": "manage people",
    "people.edit": "manage people",
    "people.link": "manage people",
    "people.disable": "manage people",
    "people.enable": "manage people",
    "people.sign_out": "manage people",
    "people.take_off_factor": "manage people",
    "people.slips": "manage people",
    "people.slip": "manage people",
    "people.roles": "see the office",
    "people.refusals": "manage people",
    "people.mine": SIGNED_IN,
    "people.end_session": SIGNED_IN,
    "people.change_password": SIGNED_IN,
    "signin.second_factor": HALF_SIGNED_IN,
    "signin.take_code": HALF_SIGNED_IN,
    "corrections.page": "correct entries",
    "corrections.take": "correct entries",
    "corrections.board": "approve corrections",
    "corrections.decide": "approve corrections",
    "redactions.board": "withhold texts",
    "redactions.decide": "withhold texts",
    "holds.take": "keep holds",
    "copies.take": "take out the record",
    "line.page": "take calls",
    "pictures.take": "write down readings",
    "pictures.show": "read incidents",
    "field.shell": "work a stop",
    "field.worker": "work a stop",
    "field.manifest": "work a stop",
    "field.pack": "work a stop",
    "field.mine": "work a stop",
    "callhands.given_up": "take calls",
    "callhands.beside": "take calls",
    "callhands.same": "take calls",
    "callhands.hand_over": "take calls",
    "callhands.again": "take calls",
    "notices.board": "write down readings",
    "notices.send": "tell everyone",
    "notices.read": "write down readings",
    "countywide.begin": "tell everyone",
    "countywide.open_case": "tell everyone",
    "rollcall.board": "write down readings",
    "rollcall.take": "write down readings",
    "sending.board": "dispatch rovers",
    "sending.send": "dispatch rovers",
    "outbox.look": "write down readings",
    "outbox.take": "write down readings",
    "rounds.answer": "work a stop",
    "rounds.article": "work a stop",
    "now.board": "watch the day",
    "now.table": "watch the day",
    "incidents.register": "read incidents",
    "incidents.incident": "read incidents",
    "incidents.place": "read incidents",
    "library.browse": "read the library",
    "library.article": "read the library",
    "library.tree": "read the library",
    "write.work": "edit the library",
    "write.new": "edit the library",
    "write.take_new": "edit the library",
    "write.begin": "edit the library",
    "write.history": "edit the library",
    "write.upgrade": "edit the library",
    "draft.page": "edit the library",
    "draft.save": "edit the library",
    "draft.live": "edit the library",
    "draft.move": "edit the library",
    "reading.page": "edit the library",
    "reading.decide": "edit the library",
    "conflict.page": "edit the library",
    "conflict.take": "edit the library",
    "printing.choose": "read the library",
    "printing.booklet": "read the library",
    "printing.styles": "read the library",
    "printing.cards": "read the library",
    "learning.board": "learn from calls",
    "learning.figures": "learn from calls",
    "learning.article": "learn from calls",
    "learning.tree": "learn from calls",
    "learning.accept": "learn from calls",
    "learning.set_aside": "learn from calls",
    "learning.take_back": "learn from calls",
    "proof.board": "prove the record",
    "proof.make": "prove the record",
    "proof.sheet": "prove the record",
    "proof.code": "prove the record",
    "review.board": "review",
    "review.method": "review",
    "review.table": "review",
    "review.compare": "review",
    "review.style": "review",
    "report.show": "review",
    "report.take": "review",
    "actions.board": "review",
    "actions.new": "keep actions",
    "actions.add": "keep actions",
    "actions.change": "review",
    "actions.changed": "keep actions",
    "worksheet.show": "read the library",
    "worksheet.kept": "read the library",
    "worksheet.fill": "fill the worksheet",
    "worksheet.save": "fill the worksheet",
    "worksheet.upload": "fill the worksheet",
    "worksheet.file": "fill the worksheet",
    "worksheet.paper": "fill the worksheet",
    "worksheet.check": "fill the worksheet",
    "worksheet.sign": "fill the worksheet",
    "worksheet.freeze": "fill the worksheet",
    "worksheet.ask": "fill the worksheet",
    "worksheet.notice": "fill the worksheet",
    "worksheet.decide": "fill the worksheet",
    "office.board": "see the office",
}


def test_every_route_is_listed_with_the_permission_it_holds(app: Flask) -> None:
    found = {rule.endpoint: permission_of(app, rule.endpoint) for rule in app.url_map.iter_rules()}
    assert found == ROUTES


def test_every_address_stands_in_the_developers_table(app: Flask) -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = set(re.findall(r"^\| (GET|POST) `(.+?)` \| (.+?) \|$", text, flags=re.MULTILINE))
    found = {
        ("POST" if "POST" in (rule.methods or set()) else "GET", rule.rule, ROUTES[rule.endpoint])
        for rule in app.url_map.iter_rules()
    }
    assert table == found


def test_a_view_without_a_permission_is_closed(
    app: Flask, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(app.view_functions, "library.browse", lambda: "secret")
    browser = sign_in("administrator")
    assert "secret" not in browser.get("/library", 403)
    assert "open to: nobody" in browser.page


@pytest.mark.parametrize("role", ROLES)
def test_each_role_gets_in_where_the_table_says_and_nowhere_else(
    app: Flask, sign_in: SignIn, role: str
) -> None:
    browser = sign_in(role)
    for rule in app.url_map.iter_rules():
        permission = ROUTES[rule.endpoint]
        if permission in {EVERYONE, SIGNED_IN, HALF_SIGNED_IN}:
            continue
        address = rule.rule
        for argument in rule.arguments:
            address = address.replace(f"<{argument}>", "x")
        method = "POST" if "POST" in (rule.methods or set()) else "GET"
        response = browser.client.open(
            address, method=method, data={"form_token": browser.form_token}
        )
        allowed = role in PERMISSIONS[permission]
        assert (response.status_code == 403) is not allowed, (method, address, response.status_code)
        if not allowed:
            assert "Your role may not do this" in response.text


@pytest.mark.parametrize("was", ["never signed in", "disabled", "signed out everywhere"])
def test_without_a_session_every_page_leads_to_sign_in_and_every_form_is_refused(
    app: Flask, folder: Folder, sign_in: SignIn, was: str
) -> None:
    """Also with the cookie of an account that was shut or signed out while it was in use."""
    anonymous = Browser(app.test_client()) if was == "never signed in" else sign_in("manager")
    if was == "disabled":
        folder.people.disable("manager", "administrator", "left")
    elif was == "signed out everywhere":
        folder.people.sign_out_everywhere("manager", "administrator")
    for rule in app.url_map.iter_rules():
        if ROUTES[rule.endpoint] == EVERYONE:
            continue
        address = rule.rule
        for argument in rule.arguments:
            address = address.replace(f"<{argument}>", "x")
        if "POST" in (rule.methods or set()):
            refused = anonymous.client.post(address)
            assert refused.status_code == 401
            assert "so this was not stored" in refused.text
        else:
            response = anonymous.client.get(address)
            assert response.status_code == 303
            assert response.headers["Location"].startswith("/sign-in?next=")


def test_a_form_without_its_token_or_from_elsewhere_changes_nothing(
    sign_in: SignIn,
) -> None:
    browser = sign_in("hotline")
    before = browser.get("/calls")
    assert browser.client.post("/calls").status_code == 403
    assert browser.client.post("/calls", data={"form_token": "made up"}).status_code == 403
    token = browser.form_token
    elsewhere = browser.client.post(
        "/calls", data={"form_token": token}, headers={"Sec-Fetch-Site": "cross-site"}
    )
    assert elsewhere.status_code == 403
    assert browser.get("/calls").count("<tr") == before.count("<tr")


@pytest.mark.parametrize(
    ("login", "password"), [("hotline", "wrong"), ("ghost", PASSWORD), ("", "")]
)
def test_wrong_sign_in_says_so_and_keeps_the_login(
    anonymous: Browser, login: str, password: str
) -> None:
    anonymous.get("/sign-in")
    anonymous.post("/sign-in", 403, login=login, password=password)
    assert "Login and password do not fit together" in anonymous.page
    assert f'value="{login}"' in anonymous.page
    assert "<title>Error:" in anonymous.page


@pytest.mark.parametrize(
    ("wanted", "reached"),
    [
        ("/library?q=jam", "/library?q=jam"),
        ("//evil.example/", "/"),
        ("/\\evil.example", "/"),
        ("/\t/evil.example", "/"),
        ("/\n/evil.example", "/"),
        ("/\r/evil.example", "/"),
        ("https://evil.example", "/"),
    ],
)
def test_sign_in_goes_on_where_one_wanted_to_go_but_never_to_another_site(
    anonymous: Browser, wanted: str, reached: str
) -> None:
    anonymous.get("/sign-in")
    anonymous.post("/sign-in", login="hotline", password=PASSWORD, next=wanted)
    assert anonymous.location == reached


def test_sign_out_ends_the_session_on_the_server(app: Flask, anonymous: Browser) -> None:
    browser = anonymous
    browser.get("/sign-in")
    browser.post("/sign-in", login="hotline", password=PASSWORD)
    browser.get("/calls")
    cookie = browser.client.get_cookie("latchbook")
    assert cookie
    assert cookie.http_only
    assert cookie.same_site == "Lax"
    browser.post("/sign-out")
    thief = app.test_client()
    thief.set_cookie("latchbook", cookie.value)
    assert thief.get("/calls").status_code == 303


def test_a_script_without_a_session_is_told_so_and_never_given_the_sign_in_page(
    anonymous: Browser,
) -> None:
    asked = anonymous.client.get("/now/table", headers={"X-Part": "1"})
    assert asked.status_code == 401
    assert "Sign in" in asked.text


def test_a_second_tab_does_not_spoil_the_sign_in_form_of_the_first(anonymous: Browser) -> None:
    anonymous.get("/sign-in")
    first = anonymous.page
    anonymous.get("/sign-in")
    anonymous.page = first
    anonymous.post("/sign-in", login="hotline", password=PASSWORD)
    assert anonymous.location == "/"


def test_a_one_time_link_sets_a_password_once(sign_in: SignIn, anonymous: Browser) -> None:
    office = sign_in("administrator")
    office.get("/office")
    office.post("/office/people/rover/link", 200)
    address = office.page.split("/first-password/")[1].split('"')[0]
    anonymous.get(f"/first-password/{address}")
    anonymous.post(f"/first-password/{address}", 422, password="short", again="short")
    assert "Use at least 12" in anonymous.page
    anonymous.post(
        f"/first-password/{address}", 422, password="a good long password", again="not the same one"
    )
    assert "The two entries differ" in anonymous.page
    anonymous.post(
        f"/first-password/{address}", password="a good long password", again="a good long password"
    )
    anonymous.get(f"/first-password/{address}", 404)
    anonymous.get("/sign-in")
    anonymous.post("/sign-in", login="rover", password="a good long password")
    assert anonymous.location == "/"
