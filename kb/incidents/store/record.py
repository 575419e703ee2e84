"""The record of one county: what pages, commands and imports ask of it and tell it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from heapq import nsmallest
from typing import TYPE_CHECKING, Any, cast

from sqlite_utils import Database

from kb.base.clock import now as present
from kb.base.database import Store
from kb.base.errors import Problems, Refused
from kb.incidents import merkle
from kb.incidents.events import Event, Receipt
from kb.incidents.finding import rank
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.intake import admit
from kb.incidents.leaf import Leaf
from kb.incidents.places import Device, Election, Exposure, Place, current
from kb.incidents.roles import OF_IMPORTS
from kb.incidents.rows import Row
from kb.incidents.standing import standing
from kb.incidents.store import desk, ledger, projection, reading, reviewing, tree
from kb.incidents.store.caserows import CaseRows
from kb.incidents.store.countyrows import Rows
from kb.incidents.store.reading import Filter, Mark
from kb.incidents.store.schema import migrations

if TYPE_CHECKING:
    from kb.people.accounts import Account


class Record:
    """The ledger of a county and what follows from it. Safe for many threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._rows = Rows()
        self._cases = CaseRows()
        store.write(migrations.apply)

    # Telling it

    def take(self, entries: Sequence[Mapping[str, object]], actor: Account) -> list[Receipt]:
        """Admit and store what a person sent; one receipt an entry, in the same order.

        A faulty entry is refused by its receipt and hinders no other. All that is taken is
        committed together, the projection with it.
        """
        received = present()
        judged = [_judge(entry, actor, received) for entry in entries]
        return self._store.write(
            lambda database: append_events(database, judged, roles=actor.roles)
        )

    def append(self, events: Sequence[Event]) -> list[Receipt]:
        """Store events that were admitted already (imports), all in one transaction."""
        return self._store.write(lambda database: append_events(database, events, roles=OF_IMPORTS))

    def rebuild(self) -> int:
        """Make the projection anew from the ledger; returns the number of events."""

        def job(database: Database) -> int:
            count = projection.rebuild(database)
            desk.raise_version(database)
            return count

        count = self._store.write(job)
        self._cases.forget()
        return count

    # Asking it

    def has(self, event: str) -> bool:
        """Whether an event of this id is in the record."""
        return ledger.find(self._read(), event) is not None

    def events(self, election: str | None = None, incident: str | None = None) -> list[Event]:
        """The events of an incident, of an election, or of the county itself, in ledger order."""
        if incident is not None:
            return ledger.of_incident(self._read(), incident)
        return [recorded.event for recorded in ledger.of_log(self._read(), election or "")]

    def told(self, kind: str, election: str | None) -> list[Event]:
        """The events of one kind in an election's log, or in the county's, in ledger order.

        As they were told: what shows typed words asks `standing`.
        """
        return ledger.of_kind(self._read(), election or "", kind)

    def standing(self, kind: str, election: str | None) -> list[Event]:
        """The same as they count now: corrected, redacted, and without those struck out.

        For kinds that belong to no incident; the entries of one stand in its story.
        """
        read, log = self._read(), election or ""
        amending = [*ledger.loose_corrections(read, log), *ledger.loose_withholdings(read, log)]
        entries = standing(ledger.of_kind(read, log, kind), amending)
        return [entry.event for entry in entries if not entry.struck]

    def incident(self, identifier: str) -> Incident | None:
        """The incident as it stands, or None where nobody told anything of it."""
        events = ledger.of_incident(self._read(), identifier)
        return fold(events) if events else None

    def row(self, identifier: str, now: datetime | None = None) -> Row | None:
        """The row of one incident, with its number and priority."""
        found = reading.rows(self._read(), "i.id = ?", [identifier])
        return self._ranked(found, found[0].election, now)[0] if found else None

    def incidents(
        self, election: str, *, now: datetime | None = None, **filters: str | datetime | None
    ) -> list[Row]:
        """Rows for a list: open ones by priority and age, then closed ones, newest first.

        `filters` are the fields of `reading.Filter`: place, zone, equipment, phase, symptom,
        symptom, effect, flag, status, rover, outcome, parent, text, since.
        """
        wanted = Filter(**cast("dict[str, Any]", filters))
        found = reading.fitting(self._cases.of(self._read(), election), wanted)
        return self._ranked(found, election, now)

    def number(self, identifier: str) -> int | None:
        """The short number of an incident, one sequence an election."""
        query = "SELECT number FROM incidents WHERE id = ?"
        found = self._read().execute(query, [identifier]).fetchone()
        return int(found[0]) if found else None

    def by_number(self, election: str, number: int) -> str | None:
        """The id of the incident with this spoken number."""
        query = "SELECT id FROM incidents WHERE election = ? AND number = ?"
        found = self._read().execute(query, [election, number]).fetchone()
        return str(found[0]) if found else None

    def elections(self) -> list[Election]:
        """All elections, by date."""
        return self._rows.of(self._read(), "elections", reading.elections)

    def election(self, identifier: str) -> Election | None:
        """One election."""
        return next((one for one in self.elections() if one.id == identifier), None)

    def current_election(self, now: datetime) -> Election | None:
        """The election whose day it is, else the nearest; None where there is none."""
        return current(self.elections(), now)

    def places(self) -> list[Place]:
        """All places, by id."""
        return self._rows.of(self._read(), "places", reading.places)

    def place(self, identifier: str) -> Place | None:
        """One place."""
        query = "SELECT row FROM places WHERE id = ?"
        return next(iter(reading.models(self._read(), Place, query, [identifier])), None)

    def find_places(self, text: str, limit: int = 8) -> list[Place]:
        """Places by name, id, precinct, asset or phone, the nearest first."""
        found = reading.find_places(self._read(), text)
        fitting = (place for place in self.places() if place.id in found)
        return nsmallest(limit, fitting, key=lambda place: rank(place, text))

    def devices(self, place: str | None = None) -> list[Device]:
        """Devices by asset: all, or those of a place."""
        if place is None:
            return self._rows.of(self._read(), "devices", lambda read: reading.devices(read, None))
        return reading.devices(self._read(), place)

    def exposures(self, election: str) -> list[Exposure]:
        """The turnout of an election."""
        return reading.exposures(self._read(), election)

    def marks(self, election: str, place: str | None = None) -> dict[str, dict[str, Mark]]:
        """The roll call of an election, or of one place in it: place, kind of mark, latest mark."""
        return reading.marks(self._read(), election, place)

    # What a review reads

    def case_columns(self, election: str, *, whole: bool) -> list[tuple[str | None, ...]]:
        """The columns of every case of a place; see `reviewing.cases`."""
        return reviewing.cases(self._read(), election, whole=whole)

    def file_names(self, election: str) -> dict[str, str]:
        """What files call the cases that came from one, by the record's id."""
        return reviewing.file_names(self._read(), election)

    def listed_calls(self, election: str) -> list[tuple[str | None, ...]]:
        """The telephone list: call, place, started, answered, ended, incident."""
        return reviewing.listed_calls(self._read(), election)

    def turnout(self, election: Election) -> list[tuple[str | int | None, ...]]:
        """Place, ballots, sheets and check-ins over all days, the opening on the voting day."""
        return reviewing.turnout(self._read(), election.id, election.date.isoformat())

    def incidents_with(self, election: str, kind: str) -> list[str]:
        """The cases of which something of this kind was told."""
        return reviewing.incidents_with(self._read(), election, kind)

    def places_as_of(self, at: datetime) -> list[Place]:
        """Places as they stood at an instant; those recorded later as first told."""
        return reviewing.as_of(self._read(), "place.recorded", Place, "place", self.places(), at)

    def devices_as_of(self, at: datetime) -> list[Device]:
        """Devices as they stood at an instant; those recorded later as first told."""
        return reviewing.as_of(self._read(), "device.recorded", Device, "asset", self.devices(), at)

    def size(self) -> int:
        """How many entries the ledger has."""
        return int(self._read().execute("SELECT count(*) FROM ledger").fetchone()[0])

    def version(self) -> int:
        """A number that rises whenever the record changes."""
        return desk.version(self._read())

    def digest(self) -> str:
        """SHA-256 of the projection, to compare live with rebuilt."""
        return projection.digest(self._read())

    # Proving it. A log is an election's, or "" for what belongs to none.

    def leaves(self, log: str, size: int) -> list[Leaf]:
        """The first `size` leaves of a log, with what they hide."""
        return ledger.leaves(self._read(), log, size)

    def log_sizes(self) -> dict[str, int]:
        """How many entries each log has."""
        query = "SELECT log, max(sequence) FROM ledger GROUP BY log"
        return dict(self._read().execute(query).fetchall())

    def log_size(self, log: str) -> int:
        """How many entries a log has."""
        return tree.size(self._read(), log)

    def tree_root(self, log: str, size: int | None = None) -> bytes:
        """The root over the first `size` entries of a log, or over all."""
        whole = self.log_size(log) if size is None else size
        with tree.reading(self._read(), log) as nodes:
            return merkle.root_at(nodes, whole)

    def inclusion(self, log: str, sequence: int, size: int) -> list[bytes]:
        """Shows that the entry of this sequence number is in the log of this size."""
        with tree.reading(self._read(), log) as nodes:
            return merkle.inclusion_proof(nodes, sequence - 1, size)

    def consistency(self, log: str, old: int, new: int) -> list[bytes]:
        """Shows that the log of the new size continues that of the old one."""
        with tree.reading(self._read(), log) as nodes:
            return merkle.consistency_proof(nodes, old, new)

    # What is kept beside the ledger

    def save_draft(self, owner: str, identifier: str, data: Mapping[str, object]) -> None:
        """Keep what a person has typed but not entered."""
        saved = present()
        self._store.write(
            lambda database: desk.save_draft(database, owner, identifier, data, saved)
        )

    def draft(self, owner: str, identifier: str) -> dict[str, Any] | None:
        """One draft of a person."""
        return self.drafts(owner).get(identifier)

    def drafts(self, owner: str) -> dict[str, dict[str, Any]]:
        """A person's drafts by id, the newest first."""
        return desk.drafts(self._read(), owner)

    def drop_draft(self, owner: str, identifier: str) -> None:
        """Forget a draft, since it was entered or thrown away."""
        self._store.write(lambda database: desk.drop_draft(database, owner, identifier))

    def keep_text(self, hash_: str, text: str) -> None:
        """Keep the text of a tree that is walked, for ever. Raises InputError for a wrong hash."""
        if self.text(hash_) is None:
            self._store.write(lambda database: desk.keep_text(database, hash_, text))

    def text(self, hash_: str) -> str | None:
        """A kept text by its hash."""
        return desk.text(self._read(), hash_)

    def _read(self) -> Database:
        return self._store.read()

    def _ranked(self, found: list[Row], election: str, now: datetime | None) -> list[Row]:
        places = {place.id: place for place in self.places()}
        return reading.by_urgency(found, self.election(election), places, now or present())


def _judge(entry: Mapping[str, object], actor: Account, received: datetime) -> Event | Receipt:
    if not isinstance(entry, Mapping):
        return Receipt("", None, "refused", f"an entry is a JSON object, not {entry!r:.40}")
    try:
        return admit(entry, actor=actor, received=received)
    except (Problems, Refused) as error:
        return Receipt(_whole(str(entry.get("id", ""))), None, "refused", _whole(str(error)))


def _whole(text: str) -> str:
    """What a client sent, as it can be sent back: half a surrogate pair is spelled out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def append_events(
    database: Database, judged: Sequence[Event | Receipt], *, roles: frozenset[str]
) -> list[Receipt]:
    """Append within the writer's transaction, the projection with it; a receipt each."""
    receipts: list[Receipt] = []
    news: list[Event] = []
    for one in judged:
        if isinstance(one, Receipt):
            receipts.append(one)
            continue
        receipts.append(ledger.append(database, one, roles=roles))
        if receipts[-1].state == "new":
            news.append(one)
            if one.incident is None:
                projection.project_row(database, one)
    projection.project_incidents(database, news)
    if news:
        desk.raise_version(database)
    return receipts
