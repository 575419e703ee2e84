"""A device's own event log: NIST SP 1500-101, version 1, in JSON or XML.

The file is held against the published schema, then each event becomes a plain row. Who used the
device is not taken over. Events that tell of a ballot are marked: in the order of time they
could be matched with the order of voters, so they are never shown one by one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from xml.etree.ElementTree import Element
from zoneinfo import ZoneInfo

from jsonschema import Draft4Validator

from kb.base.clock import parse_instant
from kb.base.errors import Problem, Problems
from kb.exchange import xml_in
from kb.exchange.xml_in import SCHEMAS, plain

CODE = "LOG01"
TIME = "LOG02"
LARGEST = 100 * 1024**2
_JSON = "NIST_V1_election_event_logging.json"
_XSD = "NIST_V1_election_event_logging.xsd"
_CAST = re.compile(
    r"\bcast|\bcvr\b|cast.vote|(ballot|vote|sheet)\W*"
    r"(accept|count|scann|tabulat|read\b|record|insert|return|reject|drop|process)",
    re.IGNORECASE,
)
_TOLD = 50


@dataclass(frozen=True)
class Logged:
    """One event of a log. `at` is the device's own clock; `cast`: it tells of a ballot."""

    device: str
    sequence: str
    at: datetime
    id: str
    type: str
    disposition: str
    severity: str
    description: str
    cast: bool


@dataclass(frozen=True)
class Log:
    """A file's events in their order, and the devices that it names, even without events."""

    election: str
    devices: tuple[str, ...]
    events: tuple[Logged, ...]


def parse(data: bytes, where: str, zone: str | None = None) -> Log:
    """Read a log's bytes, JSON or XML. `zone`: whose wall clock times without an offset are.

    Raises Problems with every fault: a schema's path or a line, and what is wrong.
    """
    told = _from_xml(data, where) if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<" else (
        _from_json(data, where)
    )  # fmt: skip
    problems: list[Problem] = []
    devices = [device for device in _list(told.get("Device")) if isinstance(device, dict)]
    events = tuple(
        event
        for device in devices
        for event in _events(device, where, ZoneInfo(zone) if zone else None, problems)
    )
    if problems:
        raise Problems(_shortened(problems, where))
    names = tuple(dict.fromkeys(str(device["Id"]) for device in devices))
    return Log(str(told.get("ElectionId", "")), names, events)


def is_cast(*words: str) -> bool:
    """Whether an event's id, type or description tells of a ballot that was put in or counted."""
    return any(_CAST.search(word.replace("_", " ").replace("-", " ")) for word in words)


def _events(
    device: Mapping[str, object], where: str, zone: ZoneInfo | None, problems: list[Problem]
) -> Iterator[Logged]:
    name = str(device["Id"])
    for number, one in enumerate(_list(device.get("Event")), 1):
        event = {key: str(value) for key, value in dict(one).items()}  # type: ignore[call-overload]
        at = _time(event["TimeStamp"], f"device {name}, event {number}", where, zone, problems)
        disposition = event["Disposition"]
        if disposition == "other":
            # The schema lets it pass without; the specification asks for it (section 3.1.3).
            disposition = event.get("OtherDisposition", "")
            if not disposition:
                message = f"device {name}, event {number}: OtherDisposition is missing"
                problems.append(Problem(where, 0, CODE, message, "OtherDisposition"))
        if at is not None:
            said = event.get("Description", "")
            yield Logged(
                name, event["Sequence"], at, event["Id"], event["Type"], disposition,
                event.get("Severity", ""), said, is_cast(event["Id"], event["Type"], said),
            )  # fmt: skip


def _time(
    text: str, place: str, where: str, zone: ZoneInfo | None, problems: list[Problem]
) -> datetime | None:
    try:
        return parse_instant(text)
    except ValueError as error:
        fault = str(error)
    try:
        bare = datetime.fromisoformat(text)
    except ValueError:
        bare = None
    if bare is not None and bare.tzinfo is None:
        if zone is not None:
            return bare.replace(tzinfo=zone)
        fault = f"'{text}' has no offset; say whose clock it is: --zone America/Denver"
    problems.append(Problem(where, 0, TIME, f"{place}: {fault}", "TimeStamp"))
    return None


def _from_json(data: bytes, where: str) -> dict[str, object]:
    if len(data) > LARGEST:
        raise Problems([Problem(where, 0, CODE, f"has {len(data)} bytes; {LARGEST} are the most")])
    try:
        told = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        raise Problems([Problem(where, line, CODE, f"is not JSON in UTF-8: {error}")]) from None
    # Against its own definition: the schema's "one of two" would only say that neither fits.
    faults = [
        Problem(where, 0, CODE, f"{fault.json_path}: {fault.message:.200}")
        for fault in _validator().iter_errors(told)
    ]
    if faults:
        raise Problems(_shortened(faults, where))
    return dict(told)


def _from_xml(data: bytes, where: str) -> dict[str, object]:
    root = xml_in.read(data, where, _XSD, CODE)
    if plain(root.tag) != "ElectionEventLog":
        message = f"holds {plain(root.tag)}; a log is an ElectionEventLog"
        raise Problems([Problem(where, 1, CODE, message)])
    told: dict[str, object] = {plain(one.tag): one.text or "" for one in root}
    told["Device"] = [_device(one) for one in root if plain(one.tag) == "Device"]
    return told


def _device(element: Element) -> dict[str, object]:
    told: dict[str, object] = {plain(one.tag): one.text or "" for one in element}
    told["Event"] = [
        {plain(part.tag): part.text or "" for part in one}
        for one in element
        if plain(one.tag) == "Event"
    ]
    return told


@cache
def _validator() -> Draft4Validator:
    schema = json.loads((SCHEMAS / _JSON).read_text(encoding="utf-8"))
    log = schema["definitions"]["EventLogging.ElectionEventLog"]
    return Draft4Validator(log | {"definitions": schema["definitions"]})


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _shortened(problems: list[Problem], where: str) -> list[Problem]:
    if len(problems) <= _TOLD:
        return problems
    rest = Problem(where, 0, problems[0].code, f"and {len(problems) - _TOLD} more faults")
    return [*problems[:_TOLD], rest]
