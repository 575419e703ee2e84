"""Rounds with the line cut: everything is written on the phone, and arrives once, in order.

The line is cut by ending the server, since a browser's own "offline" misses its worker.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from signal import SIGKILL

import pytest
from playwright.sync_api import Page, Playwright

from kb.authoring import worksheet
from kb.authoring.sheet import Sheet, Signature
from kb.authoring.worksheet import Act
from kb.base.clock import now
from kb.incidents.jpeg import fault
from kb.library.store import load, shipped
from kb.people.accounts import Account
from kb.triage.trees import load_trees
from kb.triage.walk import keep_fitting, replay
from tests.browser.conftest import check_accessible
from tests.browser.office import Office, office, phone, sign_in
from tests.browser.slowline import slow_line
from tests.triage.test_walk import walks as walks_of

pytestmark = pytest.mark.browser


@pytest.fixture
def at_office(tmp_path: Path) -> Iterator[Office]:
    with office(tmp_path) as served:
        yield served


@pytest.fixture
def rover(playing: Playwright, tmp_path: Path, at_office: Office) -> Iterator[Page]:
    with phone(playing, tmp_path / "phone") as context:
        yield sign_in(context, at_office)


def until(page: Page, holds: str, seconds: float = 15, arg: object = None) -> None:
    """Wait until a function of the page's says yes; its own waiting is what our policy forbids."""
    end = time.monotonic() + seconds
    while not page.evaluate(holds, arg):
        assert time.monotonic() < end, holds
        page.wait_for_timeout(25)


def to(page: Page, at: Office, where: str) -> None:
    page.goto(f"{at.address}/rounds/field#{where}")
    page.wait_for_selector("html[data-ready=yes]")


def store(page: Page) -> None:
    page.get_by_role("button", name="Store on this phone").click()
    until(page, "() => !location.hash.includes('/do/')")


def all_sent(page: Page) -> None:
    page.get_by_role("button", name="Send now").click()
    until(page, "() => document.getElementById('line').textContent.startsWith('all sent')", 30)


def work(page: Page, at: Office, stop: str) -> None:
    """A seal, a counter, two witnesses and a note, each on its own screen."""
    to(page, at, f"/stop/{stop}/do/seal")
    page.get_by_label("It comes off").check()
    page.get_by_label("Another number").fill("Z991")
    page.get_by_label("emergency compartment").check()
    page.get_by_label("whole", exact=True).check()
    page.get_by_role("button", name="Store on this phone").click()
    assert (
        "is not on the list of seals" in page.get_by_role("alert").filter(visible=True).inner_text()
    )
    page.get_by_label("Two people read this number twice").check()
    store(page)
    to(page, at, f"/stop/{stop}/do/counter")
    page.locator("[name=asset]").first.check()
    page.get_by_label("Public counter").fill("1 204")
    page.get_by_label("before", exact=True).check()
    store(page)
    to(page, at, f"/stop/{stop}/do/witnesses")
    for number, name in (("1", "Ilsa Quorn"), ("2", "Tam Beddow")):
        page.get_by_label(f"Name of witness {number}").fill(name)
        page.locator(f"[name=role{number}]").first.check()
        page.locator(f"[name=confirmed{number}]").first.check()
    store(page)
    to(page, at, f"/stop/{stop}/do/note")
    page.get_by_label("What somebody will ask about later").fill("The door was open at arrival.")
    store(page)


def told_by(at: Office, stop: str, since: datetime) -> list[tuple[str, dict[str, object]]]:
    entries = [one for one in at.events(stop) if one.actor == at.rover and one.received >= since]
    assert len({one.id for one in entries}) == len(entries)
    return [(one.kind, one.body) for one in sorted(entries, key=lambda one: (one.happened, one.id))]


def test_a_stop_is_worked_with_no_signal_and_everything_arrives_once(
    playing: Playwright, tmp_path: Path, at_office: Office
) -> None:
    stop, name = at_office.stop_of_rover()
    begun = now()
    with phone(playing, tmp_path / "phone") as context:
        page = sign_in(context, at_office)
        at_office.cut()
        # An address of the server's leads to the same stop on the phone.
        page.goto(f"{at_office.address}/rounds/{stop}")
        page.wait_for_url(f"**/rounds/field#/stop/{stop}")
        assert page.get_by_role("heading", level=1).inner_text() == name
        page.get_by_role("button", name="I am here").click()
        page.get_by_text("You are there.").wait_for()
        # One tap for the roll call: it belongs to the place, not to the case.
        call = page.get_by_role("button", name="Roll call:")
        if call.count():
            call.click()
            call.wait_for(state="detached")
        tree = page.locator("a[href*='/tree/']").first
        tree.click()
        answered = 0
        while page.locator("button.answer").count():
            heading = page.get_by_role("heading", level=1).inner_text()
            page.locator("button.answer").first.click()
            until(page, "was => document.querySelector('h1').textContent !== was", arg=heading)
            answered += 1
        assert page.locator(".voting").inner_text()
        work(page, at_office, stop)
        worked = now()
    # The browser is closed and opened again, still without signal.
    with phone(playing, tmp_path / "phone") as context:
        page = context.pages[0]
        to(page, at_office, f"/stop/{stop}")
        page.get_by_text("On this phone, not with the office yet").wait_for()
        assert "not sent · no signal" in page.locator("#line").inner_text()
        at_office.start()
        all_sent(page)
    told = told_by(at_office, stop, begun)
    assert [kind for kind, _ in told] == [
        "rover.arrived",
        *["tree.answered"] * answered,
        "seal.removed",
        "counter.read",
        *["witness.named"] * 2,
        "note.added",
    ]
    assert told[-5][1]["seal"] == "Z991"
    assert told[-4][1]["public"] == 1204
    entries = [one for one in at_office.events(stop) if one.received >= worked]
    assert all(begun <= one.happened <= worked < one.received for one in entries)


def test_a_server_killed_while_the_phone_sends_gets_everything_once(
    rover: Page, at_office: Office
) -> None:
    stop, _ = at_office.stop_of_rover()
    begun = now()
    at_office.cut()
    for number in range(40):
        to(rover, at_office, f"/stop/{stop}/do/note")
        rover.get_by_label("What somebody will ask about later").fill(f"note {number:02}")
        store(rover)
    for pause in (0.0, 0.02, 0.06):
        at_office.start()
        rover.get_by_role("button", name="Send now").click()
        time.sleep(pause)
        at_office.cut(SIGKILL)
    at_office.start()
    all_sent(rover)
    told = told_by(at_office, stop, begun)
    assert [body["text"] for _, body in told] == [f"note {number:02}" for number in range(40)]


def test_what_is_refused_stays_says_why_and_is_mended(rover: Page, at_office: Office) -> None:
    stop, _ = at_office.stop_of_rover()
    with at_office.folder() as opened:
        person = opened.people.get(at_office.rover)
        assert person
    to(rover, at_office, f"/stop/{stop}/do/note")
    # The phone lets it pass; the record does not.
    rover.evaluate(
        """async stop => {
        const { add } = await import('/static/field/outbox.js');
        const told = await (await import('/static/field/store.js')).stops();
        await add([{ id: crypto.randomUUID(), election: told.election.id, incident: stop,
            kind: 'counter.read', happened: new Date().toISOString(), body: { public: -4 } }]);
    }""",
        stop,
    )
    rover.get_by_role("button", name="Send now").click()
    rover.get_by_text("1 not taken").wait_for()
    to(rover, at_office, "/phone")
    section = rover.locator("section.refused")
    assert "public" in section.inner_text()
    check_accessible(rover)
    section.get_by_role("link", name="Write it anew").click()
    until(rover, "() => location.hash.includes('/do/counter/')")
    rover.locator("[name=asset]").first.check()
    rover.get_by_label("Public counter").fill("17")
    rover.get_by_label("after", exact=True).check()
    begun = now()
    store(rover)
    all_sent(rover)
    assert "not taken" not in rover.locator("#line").inner_text()
    assert [body["public"] for _, body in told_by(at_office, stop, begun)] == [17]


def test_a_person_who_is_no_rover_any_more_is_told_and_keeps_the_entries(
    rover: Page, at_office: Office
) -> None:
    stop, _ = at_office.stop_of_rover()
    to(rover, at_office, f"/stop/{stop}/do/note")
    with at_office.folder() as opened:
        person = opened.people.get(at_office.rover)
        assert person
        opened.people.put(Account(person.login, person.name, frozenset({"author"})))
    rover.get_by_label("What somebody will ask about later").fill("kept all the same")
    store(rover)
    rover.get_by_text("1 not sent").first.wait_for()
    with at_office.folder() as opened:
        opened.people.put(person)
    # Other roles end the sessions: the phone says so, keeps what was written, and asks to sign in.
    rover.locator("#sign").wait_for()
    assert "signed out" in rover.locator("#line").inner_text()
    sign_in(rover.context, at_office)
    all_sent(rover)
    assert any(one.body.get("text") == "kept all the same" for one in at_office.events(stop))


def test_an_entry_for_a_closed_case_is_taken_and_marked(rover: Page, at_office: Office) -> None:
    stop, _ = at_office.stop_of_rover()
    at_office.cut()
    to(rover, at_office, f"/stop/{stop}/do/note")
    rover.get_by_label("What somebody will ask about later").fill("written before I knew")
    happened = datetime.now(UTC)
    store(rover)
    at_office.start()
    with at_office.folder() as opened:
        lead = next(one for one in opened.people.all() if "lead" in one.roles)
        entry = {
            "id": "11111111-1111-4111-8111-111111111111", "election": at_office.election,
            "incident": stop, "kind": "incident.closed", "happened": "2020-01-01T00:00:00Z",
            "body": {"outcome": "fixed-by-phone", "reason": "by phone"},
        }  # fmt: skip
        assert opened.record.take([entry], lead)[0].state == "new"
    all_sent(rover)
    with at_office.folder() as opened:
        incident = opened.record.incident(stop)
        assert incident
    (note,) = [one for one in incident.timeline if one.body.get("text") == "written before I knew"]
    assert note.id in incident.late
    assert abs((note.at - happened).total_seconds()) < 5


def test_signing_out_warns_and_leaves_nothing_to_read(rover: Page, at_office: Office) -> None:
    stop, name = at_office.stop_of_rover()
    at_office.cut()
    to(rover, at_office, f"/stop/{stop}/do/note")
    rover.get_by_label("What somebody will ask about later").fill("not sent yet")
    store(rover)
    at_office.start()
    asked: list[str] = []
    rover.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    at_office.cut()
    rover.get_by_role("button", name="Sign out").click()
    rover.wait_for_timeout(300)
    assert "1 entry is not sent" in asked[0]
    rover.once("dialog", lambda dialog: dialog.accept())
    rover.get_by_role("button", name="Sign out").click()
    rover.wait_for_timeout(800)
    at_office.start()
    rover.goto(f"{at_office.address}/rounds/field")
    rover.get_by_text("Sign in to see your stops").wait_for()
    assert name not in rover.content()
    sign_in(rover.context, at_office)
    all_sent(rover)
    assert any(one.body.get("text") == "not sent yet" for one in at_office.events(stop))


def test_a_new_stop_is_seen_and_read_out_within_ten_seconds(rover: Page, at_office: Office) -> None:
    with at_office.folder() as opened:
        lead = next(one for one in opened.people.all() if "lead" in one.roles)
        rows = opened.record.incidents(at_office.election, status="open")
        other = next(row for row in rows if row.rover != at_office.rover and row.place)
        entry = {
            "id": "22222222-2222-4222-8222-222222222222", "election": at_office.election,
            "incident": other.id, "kind": "rover.sent", "happened": now().isoformat(),
            "body": {"rover": at_office.rover},
        }  # fmt: skip
        assert opened.record.take([entry], lead)[0].state == "new"
    begun = time.monotonic()
    until(rover, "() => document.getElementById('new').textContent.startsWith('New stop')", 12)
    assert time.monotonic() - begun < 11
    assert other.place_name
    rover.get_by_role("link", name=other.place_name).first.wait_for()


def test_the_phone_walks_every_tree_as_the_server_does(rover: Page) -> None:
    trees = load_trees(load(shipped())[0])
    walks = [
        (start, [list(one) for one in answers])
        for start in trees
        for answers in islice(walks_of(trees, start), 400)
    ]
    assert len({start for start, _ in walks}) == len(trees)
    # Out of order, with an answer of another way among them: the later one holds.
    ends = rover.evaluate(
        """async walks => {
        const { walk } = await import('/static/field/walk.js');
        const { trees } = await (await import('/static/field/store.js')).library();
        return walks.map(([start, answers]) => {
            const stands = walk(trees, start, answers);
            return [stands.tree, stands.id, stands.path.length];
        });
    }""",
        walks,
    )
    for (start, answers), (tree, step, length) in zip(walks, ends, strict=True):
        given = [(one[0], one[1], one[2]) for one in answers]
        position = replay(trees, start, keep_fitting(trees, start, given))
        assert (tree, step, length) == (position.tree, position.step.id, len(position.path))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_screens_are_accessible(
    playing: Playwright, tmp_path: Path, at_office: Office, scheme: str
) -> None:
    stop, _ = at_office.stop_of_rover()
    more = {"color_scheme": scheme, "viewport": {"width": 320, "height": 640}}
    with phone(playing, tmp_path / "phone", **more) as context:
        page = sign_in(context, at_office)
        screens = ["/", f"/stop/{stop}", f"/stop/{stop}/find", "/phone", "/article/jam-at-entry"]
        screens += [
            f"/stop/{stop}/do/{task}" for task in ("seal", "counter", "witnesses", "restore")
        ]
        screens += ["/tree/ballot-jam"]
        for screen in screens:
            to(page, at_office, screen)
            check_accessible(page)
            small = page.evaluate(
                """[...document.querySelectorAll('main :is(button, .button, input, select)')]
                .filter(e => e.offsetParent && !['radio', 'checkbox'].includes(e.type))
                .filter(e => e.getBoundingClientRect().height < 55.5).map(e => e.outerHTML)"""
            )
            assert small == [], screen
        for name in ("Larger text", "Bright sun"):
            page.get_by_role("button", name=name).click()
            check_accessible(page)


def test_the_phone_is_ready_in_five_seconds_on_a_slow_line(
    playing: Playwright, tmp_path: Path, at_office: Office
) -> None:
    with (
        slow_line("127.0.0.1", at_office.port) as port,
        phone(playing, tmp_path / "phone") as context,
    ):
        page = context.pages[0]
        address = f"http://127.0.0.1:{port}"
        page.goto(f"{address}/sign-in")
        page.get_by_label("Login").fill(at_office.rover)
        page.get_by_label("Password").fill(at_office.password)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/rounds")
        begun = time.monotonic()
        page.goto(f"{address}/rounds/field", wait_until="commit")
        page.wait_for_selector("html[data-ready=yes]")
        ready = time.monotonic() - begun
        page.wait_for_selector("html[data-kept=yes]")
        kept = time.monotonic() - begun
        sys.stderr.write(f"ready in {ready:.1f} s, kept in {kept:.1f} s\n")
        assert ready < 5
        assert page.evaluate(
            "async () => !!(await (await import('/static/field/store.js')).library())"
        )


def test_a_picture_is_taken_without_signal_and_says_nothing_of_the_place(
    playing: Playwright, tmp_path: Path, at_office: Office
) -> None:
    stop, _ = at_office.stop_of_rover()
    with at_office.folder() as opened:
        manager = next(one for one in opened.people.all() if "manager" in one.roles)
        act = Act(manager.login, now())
        sheet = Sheet(at_office.election, {"photos-by-workers": True})
        signature = Signature("An Official", "clerk", now().date())
        opened.worksheet.take(
            at_office.election,
            lambda before: worksheet.save(before, act, sheet),
            lambda before: worksheet.sign(before, act, signature),
        )
    with phone(playing, tmp_path / "phone") as context:
        page = sign_in(context, at_office)
        to(page, at_office, f"/stop/{stop}")
        page.get_by_role("link", name="Picture of equipment").click()
        page.get_by_text("Never a marked ballot, a voter").wait_for()
        shot = tmp_path / "shot.png"
        page.screenshot(path=shot)
        at_office.cut()
        page.locator("[name=file]").set_input_files(shot)
        page.get_by_label("What it shows").fill("the side door")
        store(page)
        at_office.start()
        all_sent(page)
    with at_office.folder() as opened:
        incident = opened.record.incident(stop)
        assert incident
        (kept,) = incident.pictures
        data = opened.pictures.get(kept.picture)
    assert data is not None
    assert fault(data) == ""
