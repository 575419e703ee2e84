"""The roll call by one tap, and what Now says of it."""

from __future__ import annotations

from kb.incidents.store.folder import Folder
from tests.web.conftest import SignIn


def test_one_tap_moves_a_place_on(sign_in: SignIn, folder: Folder) -> None:
    desk = sign_in("hotline")
    page = desk.get("/roll-call")
    assert "Mill Hall" in page
    desk.post("/roll-call/P1/place.ready")
    desk.get("/roll-call")
    desk.post("/roll-call/P1/place.opened", back="/calls/x")
    assert desk.location == "/calls/x"
    assert set(folder.record.marks("now")["P1"]) == {"place.ready", "place.opened"}
    assert "place opened" in desk.get("/roll-call")


def test_seals_are_kept_where_materials_move(sign_in: SignIn, folder: Folder) -> None:
    rover = sign_in("rover")
    rover.get("/roll-call")
    rover.post("/roll-call/P1/materials.left", seals="K100, K101")
    assert folder.record.marks("now")["P1"]["materials.left"].seals == ("K100", "K101")


def test_no_such_place_or_answer_and_no_way_to_another_site(
    sign_in: SignIn, folder: Folder
) -> None:
    desk = sign_in("hotline")
    desk.get("/roll-call")
    desk.post("/roll-call/P9/place.ready", 404)
    desk.get("/roll-call")
    desk.post("/roll-call/P1/place.painted", 404)
    desk.get("/roll-call")
    desk.post("/roll-call/P1/place.ready", back="https://else.example/")
    assert desk.location == "/roll-call"
    assert set(folder.record.marks("now")) == {"P1"}


def test_now_begins_with_who_was_not_heard_from(sign_in: SignIn) -> None:
    page = sign_in("manager").get("/now")
    assert page.index("Not heard from") < page.index("Stopped now")
    assert "Mill School" in page.split("Not heard from")[1].split("Stopped now")[0]
