"""The pages of proof: a checkpoint made, listed, printed; what it proves stands beside it."""

from __future__ import annotations

import io
import re
import threading
import zipfile
from html import unescape
from pathlib import Path

import pytest
import segno
from flask import Flask

from kb.base.clock import now
from kb.exchange.record.verify import verify
from kb.incidents.checkpoint import origin, parse
from kb.incidents.notes import open_note, read_verifier
from kb.incidents.store import Folder, keys
from kb.web import serve
from tests.web.conftest import SignIn


def made(folder: Folder) -> list[int]:
    return [one.size for one in folder.checkpoints.all("")]


def test_a_checkpoint_is_made_and_its_sheet_holds_the_whole_note(
    sign_in: SignIn, folder: Folder
) -> None:
    """The election's own log is empty at first: devices and places stand in the county's."""
    browser = sign_in("manager")
    browser.get("/record/proof?election=~")
    assert "No checkpoint yet" in browser.page
    browser.post("/record/proof", election="~")
    assert browser.location == f"/record/proof/~/{folder.record.log_size('')}"
    browser.get(browser.location)
    note = browser.page.split('<pre class="source">')[2].split("</pre>")[0]
    verifier = keys.verifier(folder.path)
    read = parse(open_note(unescape(note), [verifier]))
    assert read.origin == origin(verifier.name, "")
    assert read.root == folder.record.tree_root("")
    assert str(verifier) in unescape(browser.page)
    assert "Handed to two persons outside the office" in browser.page
    assert browser.page.count("Signature") == 2


def test_the_code_holds_the_whole_note(sign_in: SignIn, folder: Folder) -> None:
    point = folder.checkpoints.make("", "asked", now())
    answer = sign_in("canvass").client.get(f"/record/proof/~/{point.size}/code.svg")
    assert answer.mimetype == "image/svg+xml"
    assert "style=" not in answer.text
    assert "<script" not in answer.text
    expected = segno.make_qr(point.note.encode(), error="m").svg_inline(
        scale=4, border=4, light="#fff", omitsize=True
    )
    path = re.findall(r' d="([^"]+)"', expected)
    assert re.findall(r' d="([^"]+)"', answer.text) == path
    assert len(path) == 2


def test_making_one_twice_gives_the_same(sign_in: SignIn, folder: Folder) -> None:
    browser = sign_in("administrator")
    browser.get("/record/proof?election=~")
    browser.post("/record/proof", election="~")
    browser.post("/record/proof", election="~")
    assert len(made(folder)) == 1


def test_the_list_shows_the_newest_first_and_says_what_is_not_proven(
    sign_in: SignIn, folder: Folder
) -> None:
    call = sign_in("hotline")
    for _ in range(2):
        call.get("/calls")
        call.post("/calls")
        folder.checkpoints.make("now", "asked", now())
    browser = sign_in("lead")
    browser.get("/record/proof")
    rows = browser.page.split("<tbody>")[1]
    sizes = [int(found) for found in re.findall(r"/record/proof/now/(\d+)", rows)]
    assert sizes == sorted(sizes, reverse=True)
    assert len(sizes) == 2
    assert "What it does not prove" in browser.page
    assert "That an incident was entered at all" in browser.page
    assert read_verifier(unescape(browser.page).split('<pre class="source">')[-1].split("<")[0])


def test_an_empty_log_offers_nothing_to_sign(sign_in: SignIn) -> None:
    browser = sign_in("manager")
    browser.get("/record/proof?election=now")
    assert "0 entries now" in browser.page
    assert "Make a checkpoint now" not in browser.page
    browser.post("/record/proof", 503, election="now")
    assert "nothing to sign" in browser.page


def test_without_a_key_the_page_says_how_to_make_one(sign_in: SignIn, folder: Folder) -> None:
    point = folder.checkpoints.make("", "asked", now())
    (folder.path / keys.FOLDER / keys.SIGNING).unlink()
    browser = sign_in("manager")
    browser.get("/record/proof?election=~")
    assert "latchbook keys" in browser.page
    assert "Make a checkpoint now" not in browser.page
    assert "Handed to two persons" in browser.get(f"/record/proof/~/{point.size}")


@pytest.mark.parametrize(
    "address",
    [
        "/record/proof?election=nowhere",
        "/record/proof/nowhere/3",
        "/record/proof/~/0",
        "/record/proof/~/99999",
        "/record/proof/~/-1",
        "/record/proof/~/three",
        "/record/proof/~/٣",
        f"/record/proof/~/{'9' * 40}",
        "/record/proof/~/99999/code.svg",
    ],
)
def test_what_is_not_there_is_not_found(sign_in: SignIn, address: str) -> None:
    sign_in("manager").get(address, 404)


def test_the_register_and_the_office_lead_to_it(sign_in: SignIn) -> None:
    assert "/record/proof" in sign_in("manager").get("/incidents")
    assert "/record/proof" not in sign_in("hotline").get("/incidents")
    assert "/record/proof" in sign_in("administrator").get("/office")


def test_the_server_signs_what_is_due_and_ends_when_told(app: Flask, folder: Folder) -> None:
    assert app
    ending = threading.Event()
    ending.set()
    serve.sign_while_serving(folder, ending)
    assert len(made(folder)) == 1
    serve.sign_while_serving(folder, ending)
    assert len(made(folder)) == 1


def test_a_server_without_a_key_waits_for_one(folder: Folder, tmp_path: Path) -> None:
    stored = folder.path / keys.FOLDER / keys.SIGNING
    away = stored.rename(tmp_path / "away")
    ending = threading.Event()
    ending.set()
    serve.sign_while_serving(folder, ending)
    assert made(folder) == []
    away.rename(stored)
    serve.sign_while_serving(folder, ending)
    assert len(made(folder)) == 1


def test_the_record_and_its_copies_are_taken_out_by_page(sign_in: SignIn) -> None:
    manager, desk = sign_in("manager"), sign_in("hotline")
    desk.get("/calls")
    desk.post("/calls")
    assert "Take out the record" in manager.get("/record/proof")
    assert "Take out the record" not in sign_in("lead").get("/record/proof")
    for kind in ("record", "public-copy", "bundle"):
        response = manager.client.post(
            "/record/copy",
            data={"form_token": manager.form_token, "election": "now", "kind": kind},
        )
        assert response.status_code == 200
        with zipfile.ZipFile(io.BytesIO(response.data)) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
        if kind == "bundle":
            assert "datapackage.json" in files
        else:
            assert verify(files).faults == []
    manager.post("/record/copy", 400, election="now", kind="everything")
    manager.post("/record/copy", 400, election="none", kind="record")
