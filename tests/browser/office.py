"""An office's server that can be cut off and come back at the same address, and a rover's phone."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, Playwright

from kb.demo.build import build
from kb.incidents.events import Event
from kb.incidents.store.folder import Folder, open_folder
from tests.browser.conftest import CHROMIUM


@dataclass
class Office:
    """A demo county on disk and its server, which a test starts and cuts."""

    path: Path
    election: str
    rover: str
    password: str
    port: int
    process: subprocess.Popen[str] | None = field(default=None)

    @property
    def address(self) -> str:
        """Where the server is, and will be again."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Serve; returns when it answers."""
        command = [
            *(sys.executable, "-u", "-m", "kb", "serve"),
            *("--data", str(self.path), "--port", str(self.port)),
        ]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout
        assert re.search(r"http://\S+", self.process.stdout.readline())

    def cut(self, how: signal.Signals = signal.SIGTERM) -> None:
        """No signal any more: the server is gone. SIGKILL does it in the middle of anything."""
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait()
            if self.process.stdout is not None:
                self.process.stdout.close()
            self.process = None

    @contextmanager
    def folder(self) -> Iterator[Folder]:
        """The data folder, opened beside the server."""
        opened = open_folder(self.path)
        try:
            yield opened
        finally:
            opened.close()

    def stop_of_rover(self) -> tuple[str, str]:
        """A stop of the rover's that has an article with a tree: its id and its place's name."""
        with self.folder() as opened:
            rows = opened.record.incidents(self.election, rover=self.rover, status="open")
            places = {place.id: place.name for place in opened.record.places()}
            return rows[0].id, places[rows[0].place or ""]

    def events(self, incident: str) -> list[Event]:
        """What the record has of a case."""
        with self.folder() as opened:
            return opened.record.events(incident=incident)


@contextmanager
def office(folder: Path) -> Iterator[Office]:
    """A county on its day, served until the end of the block."""
    county = build(folder / "county", datetime.now().astimezone())
    rover = next(one for one in county.sign_ins if one.role == "rover")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    made = Office(county.folder, county.election, rover.login, rover.password, port)
    made.start()
    try:
        yield made
    finally:
        made.cut(signal.SIGKILL)


@contextmanager
def phone(
    playwright: Playwright, kept: Path, *args: str, **more: object
) -> Iterator[BrowserContext]:
    """A browser whose storage lies on disk: closed and opened again it knows what it knew."""
    context = playwright.chromium.launch_persistent_context(
        kept,
        executable_path=CHROMIUM,
        args=["--no-sandbox", "--disable-background-networking", *args],
        **{"viewport": {"width": 360, "height": 740}, **more},  # type: ignore[arg-type]
    )
    context.set_default_timeout(15_000)
    try:
        yield context
    finally:
        context.close()


def sign_in(context: BrowserContext, of: Office, address: str = "") -> Page:
    """The rover signs in and waits until the phone is ready for work without signal.

    `address`: where the phone finds the office, if not at its own address.
    """
    page = context.pages[0]
    page.goto(f"{address or of.address}/sign-in?next=/rounds/field")
    page.get_by_label("Login").fill(of.rover)
    page.get_by_label("Password").fill(of.password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_selector("html[data-ready=yes][data-kept=yes]")
    return page
