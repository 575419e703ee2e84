"""What a rover's phone keeps: its size, whom it belongs to, and the strictest choices."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path

from kb.library.article import Library
from kb.library.store import load, shipped
from kb.triage.tree import Tree
from kb.web import field
from tests.web.conftest import Browser, SignIn

STATIC = Path(field.__file__).parent / "static" / "field"
# Of others: idb, a library.
NOT_OURS = {"idb.js"}


def told(rover: Browser, address: str) -> dict[str, object]:
    return json.loads(rover.get(address))


def test_the_pack_has_the_whole_library_in_under_400_kb(
    sign_in: SignIn, library: Library, trees: dict[str, Tree]
) -> None:
    rover = sign_in("rover")
    answer = rover.client.get("/rounds/pack", headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"
    assert len(answer.data) < 400_000
    pack = json.loads(gzip.decompress(answer.data))
    assert pack == told(rover, "/rounds/pack")
    assert set(pack["articles"]) == {
        slug for slug, one in library.articles.items() if not one.redirect
    }
    assert set(pack["trees"]) == set(trees)
    again = rover.client.get("/rounds/pack", headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304


def test_our_own_script_is_under_15_kb_packed(sign_in: SignIn) -> None:
    rover = sign_in("rover")
    ours = [path for path in STATIC.glob("*.js") if path.name not in NOT_OURS]
    assert {f"field/{path.name}" for path in STATIC.glob("*.js")} == {
        name for name in field.FILES if name.endswith(".js")
    } | {"field/worker.js"}
    takes = {"Accept-Encoding": "gzip"}
    served = []
    for path in sorted(ours):
        address = "/rounds/worker.js" if path.name == "worker.js" else f"/static/field/{path.name}"
        with rover.client.get(address, headers=takes) as answer:
            packed = "Content-Encoding" in answer.headers
            served.append(gzip.decompress(answer.data) if packed else answer.data)
    assert len(gzip.compress(b"".join(served), 9)) <= 15 * 1024


def test_an_unanswered_worksheet_shows_no_conditional_step_on_the_phone(sign_in: SignIn) -> None:
    pack = sign_in("rover").get("/rounds/pack")
    conditional = [
        " ".join(found.replace("*", "").split())
        for article in load(shipped())[0].articles.values()
        for found in re.findall(r"\[([^\[\]]+)\]\{\.if rule=", article.body)
    ]
    assert len(conditional) > 20
    plain = re.sub(r"\\[nt]|<[^>]+>|\s+", " ", pack)
    plain = re.sub(r" +", " ", plain)
    assert [words for words in conditional if words in plain] == []
    articles = json.loads(pack)["articles"].values()
    assert any(one["unset"] for one in articles)


def test_one_gets_ones_own_stops_alone(sign_in: SignIn) -> None:
    desk = sign_in("hotline")
    cases = []
    for rover in ("rover", None):
        desk.get("/calls")
        call = desk.post("/calls")
        desk.get(call)
        desk.post(f"{call}/notes", place="P1", words="jam")
        sent = {"way": "rover", "rover": rover} if rover else {"way": "open"}
        desk.post(f"{call}/finish", effect="device", **sent)
        cases.append(call.rpartition("/")[2])
    mine = told(sign_in("rover"), "/rounds/mine")
    assert mine["login"] == "rover"
    stops = mine["stops"]
    assert isinstance(stops, list)
    assert [stop["id"] for stop in stops] == cases[:1]
    assert stops[0]["devices"][0]["seals"] == ["K102"] or "K100" in stops[0]["devices"][1]["seals"]
    lead = told(sign_in("lead"), "/rounds/mine")
    assert lead["stops"] == []


def test_the_shell_names_nobody(sign_in: SignIn) -> None:
    rover, lead = sign_in("rover"), sign_in("lead")
    assert rover.get("/rounds/field") == lead.get("/rounds/field")
    assert rover.get("/rounds/worker.js") == lead.get("/rounds/worker.js")
    page = rover.get("/rounds/field")
    assert "Rover Person" not in page
    assert rover.form_token not in page


def test_static_files_go_out_packed_and_pages_do_not(sign_in: SignIn) -> None:
    rover = sign_in("rover")
    takes = {"Accept-Encoding": "gzip"}
    packed = rover.client.get("/static/latchbook.css", headers=takes)
    assert packed.headers["Content-Encoding"] == "gzip"
    plain = rover.client.get("/static/latchbook.css")
    assert gzip.decompress(packed.data) == plain.data
    packed.close()
    plain.close()
    tag = {"If-None-Match": packed.headers["ETag"]}
    again = rover.client.get("/static/latchbook.css", headers=takes | tag)
    again.close()
    assert again.status_code == 304
    assert "Content-Encoding" not in rover.client.get("/rounds", headers=takes).headers
