"""Kill the server while twelve phones send entries, a fifth of whose answers never arrive.

What a phone was told is stored must be there, once; what it was not told, it sends again to
the next server, and that too must be stored once.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from urllib.parse import urlsplit

from kb.base.clock import format_instant, now
from kb.base.ids import new_id
from kb.incidents.store import standby
from kb.incidents.store.folder import open_folder

CLIENTS = 12
ENTRIES = 400
DROPPED = 0.2
Entry = dict[str, object]


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


def notes(election: str, incident: str, count: int) -> list[Entry]:
    """Entries that wait in a phone's outbox: a few a case, as on a real day."""
    cases = [incident, *(new_id() for _ in range(count // 10))]
    return [
        {
            "id": new_id(), "election": election, "incident": cases[number // 10],
            "kind": "note.added",
            "happened": format_instant(now()), "body": {"text": f"note {number}"},
        }
        for number in range(count)
    ]  # fmt: skip


class Phone(threading.Thread):
    """Sends what waits in its outbox until the server is gone; an entry leaves only when told.

    `stored` holds the sequence number of each entry whose receipt arrived, `when` the time of
    that, `held` how many entries the server said are on the standby.
    """

    def __init__(
        self,
        host: str,
        cookie: str,
        token: str,
        outbox: list[Entry],
        dropped: float = DROPPED,
        pause: float = 0.0,
    ) -> None:
        super().__init__()
        self.pause = pause
        self.host, self.cookie, self.token, self.dropped = host, cookie, token, dropped
        self.outbox = outbox
        self.stored: dict[str, int] = {}
        self.when: dict[str, float] = {}
        self.held = 0
        self.random = Random(id(self))

    def run(self) -> None:
        # Phones are machines of their own: here they take what the server's machine leaves.
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)
        connection = http.client.HTTPConnection(self.host, timeout=10)
        try:
            while self.outbox:
                self.send(connection, self.outbox[:3])
                time.sleep(self.pause)
        except (OSError, http.client.HTTPException):
            pass  # the server is gone; what waits is sent to the next one
        finally:
            connection.close()

    def send(self, connection: http.client.HTTPConnection, entries: Sequence[Entry]) -> None:
        sent = format_instant(now())
        body = json.dumps({"entries": [entry | {"sent": sent} for entry in entries]})
        headers = {
            "Cookie": f"latchbook={self.cookie}",
            "Content-Type": "application/json",
            "X-Form-Token": self.token,
        }
        connection.request("POST", "/entries", body, headers)
        response = connection.getresponse()
        told = response.read()
        assert response.status == 200, told
        if self.random.random() < self.dropped:
            return  # the answer got lost on the way
        answer = json.loads(told)
        for receipt in answer["receipts"]:
            assert receipt["state"] in {"new", "same"}, receipt
            self.stored[receipt["id"]] = receipt["sequence"]
            self.when.setdefault(receipt["id"], time.monotonic())
        self.held = max(answer["held"].values())
        self.outbox[:] = [entry for entry in self.outbox if entry["id"] not in self.stored]


def in_record(data: Path, election: str) -> Counter[str]:
    """How often each entry is in the record; live and rebuilt must be equal."""
    folder = open_folder(data)
    try:
        found = Counter(event.id for event in folder.record.events(election=election))
        live = folder.record.digest()
        folder.record.rebuild()
        assert folder.record.digest() == live
        root, size = folder.record.tree_root(election), folder.record.log_size(election)
        point = folder.checkpoints.make(election, "asked", now())
        assert (point.root, point.size) == (root, size)
    finally:
        folder.close()
    return found


def kill_series(data: Path, cookie: str, election: str, incident: str, rounds: int) -> list[str]:
    """Kill the server `rounds` times; a line a round. Raises AssertionError for what is lost."""
    folder = open_folder(data)
    session = folder.people.session(cookie, now())
    folder.close()
    assert session
    outboxes = [notes(election, incident, ENTRIES) for _ in range(CLIENTS)]
    everything = {str(entry["id"]) for outbox in outboxes for entry in outbox}
    stored: set[str] = set()
    lines = []
    for number in range(1, rounds + 1):
        random = Random(number)
        with server(data) as (process, host):
            phones = [Phone(host, cookie, session.csrf, outbox) for outbox in outboxes]
            for phone in phones:
                phone.start()
            wanted = random.randrange(10, 60)
            while sum(len(phone.stored) for phone in phones) < wanted:
                phones[0].join(0.002)
            os.kill(process.pid, signal.SIGKILL)
            for phone in phones:
                phone.join()
        stored |= {name for phone in phones for name in phone.stored}
        found = in_record(data, election)
        lost = stored - found.keys()
        doubled = [name for name, times in found.items() if times > 1]
        assert not lost, f"{len(lost)} acknowledged entries are lost"
        assert not doubled
        lines.append(f"kill {number}: {len(stored)} acknowledged so far, {len(found)} stored")
    assert everything >= stored
    return lines


@dataclass(frozen=True)
class Lost:
    """What the loss of a machine cost.

    `told`: entries that phones had receipts for. `seconds`: how far back the newest entry lies
    of which nothing before is missing. `took`: seconds until the next server answered.
    """

    told: int
    missing: int
    seconds: float
    safe_missing: int
    missing_after: int
    took: float


def lose_machine(
    data: Path,
    second: Path,
    cookie: str,
    election: str,
    incident: str,
    pause: float = 0.0,
) -> Lost:
    """Delete a county's folder under load, go on with the standby's, let the phones send again.

    `pause`: seconds between two sendings of a phone; without one the server is driven flat out.
    """
    config = standby.configure(data, second)
    with (data / "settings.toml").open("a") as file:
        file.write(f'standby = "{second}"\n')
    folder = open_folder(data)
    session = folder.people.session(cookie, now())
    before = folder.record.log_size(election)
    folder.close()
    assert session
    outboxes = [notes(election, incident, 4_000) for _ in range(CLIENTS)]
    kept = [list(outbox) for outbox in outboxes]
    command = [standby.program(), "replicate", "-config", str(config)]
    with (
        subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as copying,
        server(data) as (process, host),
    ):
        phones = [Phone(host, cookie, session.csrf, outbox, pause=pause) for outbox in outboxes]
        for phone in phones:
            phone.start()
        deadline = time.monotonic() + 120
        while max(phone.held for phone in phones) < before + 100:
            assert time.monotonic() < deadline, "the standby was never seen to hold anything"
            threading.Event().wait(0.05)
        lost_at = time.monotonic()
        copying.kill()
        process.kill()
        shutil.rmtree(data)
        for phone in phones:
            phone.join()
    onward = second.with_name("onward")
    standby.take_over(second, onward)
    found = _stored(onward, election)
    told = {name: number for phone in phones for name, number in phone.stored.items()}
    when = {name: at for phone in phones for name, at in phone.when.items()}
    missing, held = told.keys() - found, max(phone.held for phone in phones)
    took = _send_again(onward, phones, kept, held, (cookie, session.csrf))
    return Lost(
        told=len(told),
        missing=len(missing),
        seconds=lost_at - min((when[name] for name in missing), default=lost_at),
        safe_missing=sum(told[name] <= held for name in missing),
        missing_after=len(told.keys() - _stored(onward, election)),
        took=took - lost_at,
    )


def _send_again(
    data: Path,
    phones: Sequence[Phone],
    kept: Sequence[list[Entry]],
    held: int,
    who: tuple[str, str],
) -> float:
    """Phones keep what is not safe yet, and send it to the next server; when it answered."""
    with server(data) as (_, host):
        answered = time.monotonic()
        again = []
        for phone, everything in zip(phones, kept, strict=True):
            unsafe = {name for name, number in phone.stored.items() if number > held}
            outbox = [entry for entry in everything if entry["id"] in unsafe]
            again.append(Phone(host, *who, outbox, dropped=0))
        for phone in again:
            phone.start()
        for phone in again:
            phone.join()
    return answered


def _stored(data: Path, election: str) -> set[str]:
    folder = open_folder(data)
    try:
        return {event.id for event in folder.record.events(election=election)}
    finally:
        folder.close()
