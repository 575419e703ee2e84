"""An entry of the record in plain words, for timelines."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from kb.base.clock import parse_instant
from kb.incidents import lists
from kb.incidents.order import Entry
from kb.web import walks
from kb.web.county import county
from kb.web.shown import article_title, clock, equipment_name, own, person_name

# What each kind says; what was told with it follows.
SENTENCES = {
    "call.offered": "The phone rang",
    "call.answered": "On the phone",
    "call.ended": "Call ended",
    "call.handed": "Handed to another answerer",
    "notice.sent": "Told to everyone",
    "notice.read": "Notice read",
    "action.stated": "Corrective action",
    "incident.reported": "Reported",
    "incident.described": "Described",
    "search.picked": "Article opened",
    "rover.sent": "Rover sent",
    "rover.arrived": "Rover at the place",
    "seal.removed": "Seal taken off",
    "seal.applied": "Seal put on",
    "compartment.opened": "Opened",
    "compartment.closed": "Closed",
    "counter.read": "Counter read",
    "witness.named": "Witness",
    "ballots.moved": "Ballots moved",
    "ballots.tallied": "Stored ballots tallied",
    "device.swapped": "Device swapped",
    "note.added": "Note",
    "picture.added": "Picture",
    "decision.made": "Decision",
    "voting.restored": "Works again",
    "incident.closed": "Case closed",
    "incident.reopened": "Case opened again",
    "incident.merged": "Same case as another, or part of a county-wide one",
    "incident.imported": "Taken from a file",
    "event.corrected": "An entry was corrected",
    "text.withheld": "A text was redacted",
    "hold.placed": "Litigation hold placed",
    "hold.lifted": "Litigation hold lifted",
    "place.ready": "Place ready",
    "place.opened": "Place opened",
    "place.closed": "Place closed",
    "materials.left": "Materials left the place",
    "materials.received": "Materials received",
    "correction.asked": "A correction was asked for",
    "correction.refused": "A correction was refused",
    "text.cleared": "A text was found fit for the public copy",
    "place.reconciled": "The place was counted up",
    "shift.stated": "Stated: these are my entries",
    "forms.issued": "Paper forms issued",
    "form.accounted": "A paper form accounted for",
    "log.received": "A device's own log was taken in",
    "call.recorded": "A call of the telephone list",
    "shift.recorded": "A shift",
}
_LISTED = frozenset({"symptom", "effect", "outcome", "cause", "phase", "cause_confidence"})
# Members that are for the program, or stand elsewhere on the page.
_SILENT = frozenset(
    {"hash", "walk", "call", "place", "tree", "step", "time", "event", "asked", "replacement"}
    | {"notice", "case", "parent", "into", "picture"}
)


def entry_words(entry: Entry) -> str:
    """One line: what happened, then what was told with it."""
    if entry.kind == "tree.answered":
        body = entry.body
        heading = step_heading(str(body["tree"]), str(body["hash"]), str(body["step"]))
        return _marked(entry, f"{heading} {own(str(body['answer']))}")
    return _marked(entry, body_words(entry.kind, entry.body))


def body_words(kind: str, body: Mapping[str, object]) -> str:
    """What a body of this kind says."""
    told = [
        _member(kind, name, value)
        for name, value in body.items()
        if name not in _SILENT and value not in (None, "", [], ())
    ]
    sentence = own(SENTENCES.get(kind, kind))
    return f"{sentence}: {', '.join(told)}" if told else sentence


def body_words_of(body: Mapping[str, object], kind: str) -> str:
    """The same, as a filter for what an entry said before."""
    return body_words(kind, body)


def mark_words(kind: str) -> str:
    """What a mark of the roll call says."""
    return SENTENCES.get(kind, kind).lower()


def step_heading(tree: str, version: str, step: str) -> str:
    """The question of a step, from the text that was walked."""
    found = walks.text_of(tree, version)
    known = found.steps.get(step) if found else None
    return own(known.heading) if known else f"{tree}: {step}"


def tree_title(slug: str) -> str:
    """A tree's title; its slug where it is gone."""
    found = county().trees.get(slug)
    return own(found.title) if found else slug


def _marked(entry: Entry, words: str) -> str:
    marks = []
    if entry.struck:
        marks.append("struck out")
    elif entry.versions:
        marks.append("corrected")
    if entry.skewed:
        marks.append("the sender's clock was off")
    return f"{words} ({', '.join(marks)})" if marks else words


def _member(kind: str, name: str, value: object) -> str:
    label = name.replace("_", " ").replace("cause confidence", "how sure")
    if name == "started_estimated":
        return "an estimate" if value else "as noted at the time"
    if isinstance(value, bool):
        return f"{label}: {'yes' if value else 'no'}"
    if isinstance(value, list | tuple):
        return f"{label}: {', '.join(str(item) for item in value)}"
    text = str(value)
    words = _WORDS_OF_KIND.get((kind, name)) or _WORDS.get(name)
    if words is not None:
        return words(text)
    if name in _LISTED:
        return f"{label}: {lists.SHOWN.get(text, text)}"
    return f"{label} {text}"


def _time(text: str) -> str:
    """On the wall clock; as it was told where it is no instant, in a correction that waits."""
    try:
        return clock(parse_instant(text))
    except ValueError:
        return text


def _quoted(text: str) -> str:
    return f"“{text}”"


# How a member is told where it is more than its name and value.
_WORDS: dict[str, Callable[[str], str]] = {
    "article": lambda slug: _quoted(article_title(slug)),
    "equipment": equipment_name,
    "rover": person_name,
    "person": person_name,
    "due": lambda instant: f"somebody calls back by {_time(instant)}",
    "report_by": lambda instant: f"to the state by {_time(instant)}",
    "started": lambda instant: f"started {_time(instant)}",
    "text": _quoted,
    "words": _quoted,
    "reason": _quoted,
}
# The same where a member means something else in this kind.
_WORDS_OF_KIND: dict[tuple[str, str], Callable[[str], str]] = {
    ("action.stated", "due"): lambda day: f"to be done by {day}",
}
