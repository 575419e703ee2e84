"""Kill the server while eight clients store notes; what a client was told is stored must be there.

A client that got no answer sends the same form again, as a person does; that too must be
stored once.
"""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from urllib.parse import urlencode, urlsplit

from kb.base.clock import now
from kb.incidents.store.folder import open_folder

CLIENTS = 8
MOST_NOTES = 400


@contextmanager
def server(data: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A server process of a data folder, and its host:port."""
    command = [sys.executable, "-u", "-m", "kb", "serve", "--data", str(data), "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        assert process.stdout
        said = re.search(r"http://\S+", process.stdout.readline())
        assert said
        try:
            yield process, urlsplit(said.group()).netloc
        finally:
            process.kill()


class Client(threading.Thread):
    """Stores note after note until the server is gone; keeps what was acknowledged."""

    def __init__(self, host: str, cookie: str, token: str, incident: str, texts: list[str]) -> None:
        super().__init__()
        self.host, self.cookie, self.token, self.incident = host, cookie, token, incident
        self.waiting = texts
        self.stored: list[str] = []

    def run(self) -> None:
        connection = http.client.HTTPConnection(self.host, timeout=10)
        try:
            while self.waiting:
                # The entry id belongs to the form, so it is the same when the form is sent again.
                text = self.waiting[0]
                form = urlencode({"form_token": self.token, "entry": text, "text": text})
                headers = {
                    "Cookie": f"latchbook={self.cookie}",
                    "Content-Type": "application/x-www-form-urlencoded",
                }
                connection.request("POST", f"/rounds/{self.incident}/do/note", form, headers)
                response = connection.getresponse()
                response.read()
                assert response.status == 303, response.status
                self.stored.append(self.waiting.pop(0))
        except (OSError, http.client.HTTPException):
            pass  # the server was killed; what waits is sent to the next one
        finally:
            connection.close()


def kill_round(
    data: Path, cookie: str, token: str, incident: str, waiting: list[list[str]], random: Random
) -> tuple[set[str], Counter[str]]:
    """One kill; returns the texts acknowledged in it, and how often each text is in the record."""
    with server(data) as (process, host):
        clients = [Client(host, cookie, token, incident, texts) for texts in waiting]
        for client in clients:
            client.start()
        wanted = random.randrange(30, 120)
        while sum(len(client.stored) for client in clients) < wanted:
            clients[0].join(0.002)
        os.kill(process.pid, signal.SIGKILL)
        for client in clients:
            client.join()
    folder = open_folder(data)
    try:
        found = Counter(
            str(event.body["text"])
            for event in folder.record.events(incident=incident)
            if event.kind == "note.added"
        )
        live = folder.record.digest()
        folder.record.rebuild()
        assert folder.record.digest() == live
    finally:
        folder.close()
    return {text for client in clients for text in client.stored}, found


def kill_series(data: Path, cookie: str, incident: str, rounds: int) -> list[str]:
    """Run the series; a line a round. Raises AssertionError where anything is lost or doubled."""
    token = _form_token(data, cookie)
    random = Random(rounds)
    waiting = [[f"note {client}-{note}" for note in range(MOST_NOTES)] for client in range(CLIENTS)]
    acknowledged: set[str] = set()
    lines = []
    for number in range(1, rounds + 1):
        now_stored, found = kill_round(data, cookie, token, incident, waiting, random)
        acknowledged |= now_stored
        lost = acknowledged - found.keys()
        doubled = [text for text, times in found.items() if times > 1]
        assert not lost, lost
        assert not doubled, doubled
        lines.append(
            f"kill {number}: {len(acknowledged)} acknowledged, {found.total()} stored, "
            "0 lost, 0 doubled, projection as rebuilt"
        )
    return lines


def _form_token(data: Path, cookie: str) -> str:
    folder = open_folder(data)
    session = folder.people.session(cookie, now())
    folder.close()
    assert session
    return session.csrf
