"""Pictures: off until the worksheet allows them, then kept, shown in the case, and redacted."""

from __future__ import annotations

import hashlib

import pytest

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store.folder import Folder
from kb.web.county import County
from tests.incidents.test_jpeg import JFIF, TABLE, picture, segment
from tests.web.conftest import Browser, SignIn

PICTURE = picture(JFIF, TABLE)
NAME = hashlib.sha256(PICTURE).hexdigest()


@pytest.fixture
def case(sign_in: SignIn) -> str:
    desk = sign_in("hotline")
    desk.get("/calls")
    call = desk.post("/calls")
    return call.rpartition("/")[2]


@pytest.fixture
def allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(County, "allows_pictures", property(lambda _: True))


def send(rover: Browser, data: bytes) -> int:
    headers = {"X-Form-Token": rover.form_token, "Content-Type": "image/jpeg"}
    return rover.client.post("/pictures", data=data, headers=headers).status_code


def test_unanswered_means_no_picture(sign_in: SignIn, folder: Folder) -> None:
    rover = sign_in("rover")
    assert send(rover, PICTURE) == 400
    assert folder.pictures.get(NAME) is None
    assert '"pictures": false' in rover.get("/rounds/mine")


@pytest.mark.usefixtures("allowed")
def test_a_picture_is_kept_shown_and_redacted(sign_in: SignIn, folder: Folder, case: str) -> None:
    rover, manager = sign_in("rover"), sign_in("manager")
    assert '"pictures": true' in rover.get("/rounds/mine")
    assert send(rover, picture(JFIF, segment(0xE1, b"Exif\0\0"))) == 400
    assert send(rover, PICTURE) == 200
    assert send(rover, PICTURE) == 200
    # Nobody sees it before an entry names it in a case.
    rover.get(f"/incidents/{case}/pictures/{NAME}", 404)
    person = folder.people.get("rover")
    entry = {
        "id": new_id(), "election": "now", "incident": case, "kind": "picture.added",
        "happened": format_instant(now()), "body": {"picture": NAME, "text": "the open door"},
    }  # fmt: skip
    assert folder.record.take([entry], person)[0].state == "new"
    assert "picture: the open door" in manager.get(f"/incidents/{case}")
    shown = manager.client.get(f"/incidents/{case}/pictures/{NAME}")
    assert (shown.data, shown.mimetype) == (PICTURE, "image/jpeg")
    board = manager.get("/redactions")
    assert f"/incidents/{case}/pictures/{NAME}" in board
    assert f"“{NAME}”" not in board
    boss = folder.people.get("manager")
    told = {
        "id": new_id(), "election": "now", "incident": case, "kind": "text.withheld",
        "happened": format_instant(now()),
        "body": {"event": entry["id"], "reason": "a voter is on it"},
    }  # fmt: skip
    assert folder.record.take([told], boss)[0].state == "new"
    manager.get(f"/incidents/{case}/pictures/{NAME}", 404)
    assert NAME not in manager.get(f"/incidents/{case}")


def test_a_faulty_name_is_no_entry(folder: Folder, case: str) -> None:
    entry = {
        "id": new_id(), "election": "now", "incident": case, "kind": "picture.added",
        "happened": format_instant(now()), "body": {"picture": "../../etc"},
    }  # fmt: skip
    assert folder.record.take([entry], folder.people.get("rover"))[0].state == "refused"
