"""The entries of a record read again from its disclosures, to be judged by our own rules.

Only for logs whose disclosures fit what was signed. A member that is withheld stands as
`[redacted]`, as it does in the office: so rules that look at other members still apply.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kb.base.clock import parse_instant
from kb.base.errors import LatchbookError
from kb.exchange.record.entries import Told
from kb.exchange.record.policy import policy
from kb.exchange.record.public import redacted
from kb.incidents.events import Event
from kb.incidents.kinds import KINDS
from kb.incidents.order import REDACTED

# What every entry says of itself. The office redacts texts, never these.
ENVELOPE = ("id", "incident", "happened", "sent", "received", "actor")
_INSIDE = "body."
# What entries that this program never took in can do to the rules that read them.
UNREADABLE = (
    ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError,
    LatchbookError,
)  # fmt: skip


def withheld_wrongly(entries: Iterable[Told]) -> Iterator[tuple[int, str]]:
    """What a record withholds without the office having redacted it: entry, and what is wrong.

    Not for public copies, where the office withholds more than it redacts.
    """
    told = list(entries)
    events: dict[int, Event] = {}
    for one in told:
        if lacking := [name for name in ENVELOPE if name not in one.members]:
            names = ", ".join(lacking)
            yield one.sequence, f"{names} is not disclosed; only a public copy may withhold that."
            continue
        try:
            events[one.sequence] = event_of(one)
        except (ValueError, TypeError) as error:
            yield one.sequence, f"it does not read as an entry: {error}."
    try:
        rules = policy(events.values(), {})
    except UNREADABLE as error:
        yield 0, f"what the office redacted cannot be told: {error!r}."
        return
    for one in told:
        if one.sequence in events:
            allowed = redacted(events[one.sequence], rules).keys()
            for name in one.withheld:
                if name not in allowed or not _could_say(one.kind, name):
                    yield one.sequence, f"{name} is withheld, and no text.withheld says so."


def _could_say(kind: str, member: str) -> bool:
    """Whether an entry of this kind can have that member: a name that it cannot have hides one."""
    if kind not in KINDS:
        return False
    fields = KINDS[kind].model_fields.items()
    return member.removeprefix(_INSIDE) in {field.alias or name for name, field in fields}


def event_of(one: Told) -> Event:
    """The entry as the office has it, but for what is withheld. Raises ValueError, TypeError."""
    body = {
        name.removeprefix(_INSIDE): value
        for name, value in one.members.items()
        if name.startswith(_INSIDE)
    }
    hidden = {name.removeprefix(_INSIDE): REDACTED for name in one.withheld}
    said = {name: one.members[name] for name in ENVELOPE}
    election, incident = _text_or_none(one.election), _text_or_none(said["incident"])
    return Event(
        id=str(said["id"]),
        election=election,
        incident=incident,
        kind=one.kind,
        happened=parse_instant(str(said["happened"])),
        sent=parse_instant(str(said["sent"])),
        received=parse_instant(str(said["received"])),
        actor=str(said["actor"]),
        body=body | hidden,
        imported=bool(one.members.get("imported")),
    )


def _text_or_none(told: object) -> str | None:
    return None if told is None else str(told)
