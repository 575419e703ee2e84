"""A small invented county behind the pages, and a browser that checks every page it gets."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import copy
from pathlib import Path
from typing import Any

import html5lib
import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from kb.base.clock import now
from kb.exchange.store import import_table
from kb.incidents.store.folder import Folder, create, open_folder
from kb.library.article import Library
from kb.library.store import load, shipped
from kb.people.accounts import Account
from kb.people.roles import ROLES
from kb.people.store import People
from kb.triage.tree import Tree
from kb.triage.trees import load_trees
from kb.web.app import create_app
from kb.web.county import EXTENSION, County

PASSWORD = "four unrelated words here"
ADMIN = Account("setup", "Set-up", frozenset({"administrator"}))
HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def library() -> Library:
    return load(shipped())[0]


@pytest.fixture(scope="session")
def trees(library: Library) -> dict[str, Tree]:
    return load_trees(library)


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two places, their devices, and one person a role; made once."""
    path = tmp_path_factory.mktemp("county") / "data"
    create(path, 'county = "Tamarisk County"\nhotline = "555-0100"\n')
    folder = open_folder(path)
    files = tmp_path_factory.mktemp("files")
    today = now().date()
    (files / "elections.csv").write_text(
        f"election,name,date,time_zone,opens,closes\nnow,General election,{today},UTC,00:01,23:59\n"
    )
    (files / "places.csv").write_text(
        "place,name,address,latitude,longitude,zone,phone,opens,closes,precincts,registered,expected_voters\n"
        "P1,Mill Hall,1 Mill Lane,31.1,-41.1,North,555-0111,,,101 102,900,400\n"
        "P2,Mill School,2 Mill Lane,31.2,-41.2,South,555-0112,,,103,800,300\n"
    )
    (files / "equipment.csv").write_text(
        "asset,equipment,model,batch,place,spare,seals,public_counter,protective_counter\n"
        "SC-1,scanner,A,S1,P1,no,K100 K101,0,5000\n"
        "BX-1,ballot-box,B,B1,P1,no,K102,,\n"
        "SC-9,scanner,A,S1,,yes,,0,4000\n"
    )
    for kind in ("elections", "places", "equipment"):
        import_table(folder.record, folder.people, kind, files / f"{kind}.csv", actor=ADMIN)
    for role in ROLES:
        folder.people.put(
            Account(role, f"{role.title()} Person", frozenset({role}), "", "555-0120")
        )
    folder.people.set_password("hotline", PASSWORD)
    # One argon2 run serves all: the hash is copied, which only a test may do.
    folder.store.write(
        lambda database: database.conn.execute(
            "UPDATE accounts SET password = (SELECT password FROM accounts WHERE login = 'hotline')"
        )
    )
    folder.close()
    return path


@pytest.fixture(scope="session")
def sessions(prepared: Path) -> dict[str, str]:
    """The cookie of a session for each role, begun once: argon2 is slow by design."""
    opened = open_folder(prepared)
    begun = {role: token_of(opened.people, role) for role in ROLES}
    opened.close()
    return begun


@pytest.fixture
def folder(prepared: Path, sessions: dict[str, str], tmp_path: Path) -> Iterator[Folder]:
    assert sessions  # begun before the copy is made
    shutil.copytree(prepared, tmp_path / "data")
    opened = open_folder(tmp_path / "data")
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def compiled(prepared: Path, library: Library) -> Iterator[Flask]:
    """One application for all tests, since compiling its templates takes a while."""
    opened = open_folder(prepared)
    # By words alone: sentence vectors take seconds, and have tests of their own.
    app = create_app(County(opened, library, None))
    app.testing = True
    yield app
    opened.close()


@pytest.fixture
def app(compiled: Flask, folder: Folder) -> Iterator[Flask]:
    """The application over this test's own copy of the county."""
    with over(compiled, folder):
        yield compiled


@contextmanager
def over(app: Flask, folder: Folder) -> Iterator[None]:
    """Let an application serve another folder for a while; then its index is put right again."""
    first: County = app.extensions[EXTENSION]
    own = copy(first)
    own.folder = folder
    app.extensions[EXTENSION] = own
    yield
    app.extensions[EXTENSION] = first
    own.folder = first.folder
    own.renew()


def token_of(people: People, login: str) -> str:
    """A new session's token."""
    made = people.sign_in(login, PASSWORD, now(), 8)
    assert made
    return made.token


SignIn = Callable[[str], "Browser"]


class Browser:
    """A test client that signs in, sends forms with their token, and reads every page closely."""

    def __init__(self, client: FlaskClient, form_token: str = "") -> None:
        self.client = client
        self.form_token = form_token
        self.page = ""

    def get(self, address: str, status: int = 200) -> str:
        return self._take(self.client.get(address), status)

    def post(self, address: str, status: int = 303, **fields: Any) -> str:
        data = {"form_token": self.form_token or self._token(), **fields}
        self._take(self.client.post(address, data=data), status)
        return self.location

    def _token(self) -> str:
        found = re.search(r'name="form_token" value="([^"]+)"', self.page)
        return found.group(1) if found else ""

    def _take(self, response: TestResponse, status: int) -> str:
        assert response.status_code == status, (response.status_code, response.text[:2000])
        self.location = response.headers.get("Location", "")
        for header in ("Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy"):
            assert header in response.headers
        if status != 303 and response.text.startswith("<!doctype"):
            self.page = response.text
            check_page(response.text)
        return response.text


def check_page(text: str) -> None:
    """Valid HTML5, a title, one h1, unique ids, a label for each field, nothing inline."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    root = parser.parse(text)
    assert (root.findtext("head/title") or "").strip()
    assert len(list(root.iter("h1"))) == 1
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)), f"an id stands twice: {sorted(ids)}"
    labelled = {label.get("for") for label in root.iter("label")}
    for field in [*root.iter("input"), *root.iter("select"), *root.iter("textarea")]:
        if field.get("type") != "hidden":
            assert field.get("id") in labelled, f"no label for {field.get('name')}"
    for element in root.iter():
        assert not element.get("style"), "inline style"
        assert not any(name.startswith("on") for name in element.keys()), "inline script"  # noqa: SIM118 - an element's keys
    assert all(script.get("src") for script in root.iter("script")), "inline script"
    assert not list(root.iter("style")), "inline style"


@pytest.fixture
def anonymous(app: Flask) -> Browser:
    return Browser(app.test_client())


@pytest.fixture
def sign_in(app: Flask, folder: Folder, sessions: dict[str, str]) -> SignIn:
    """A signed-in browser for a role."""

    def enter(role: str) -> Browser:
        session = folder.people.session(sessions[role], now())
        assert session
        client = app.test_client()
        client.set_cookie("latchbook", sessions[role])
        return Browser(client, session.csrf)

    return enter
