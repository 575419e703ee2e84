"""The notes of a call as fields of a form, and what of them is new to the record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from kb.incidents import lists
from kb.incidents.fold import fold
from kb.incidents.incident import Incident
from kb.incidents.places import Election, Place
from kb.library.article import Article
from kb.web.county import county
from kb.web.entries import Told
from kb.web.forms import Form

# The fields that a draft keeps.
FIELDS = frozenset(["place", "words", "caller_role", "call_back", "phase", "asset"])
CALLER_ROLES = (
    "chief judge",
    "poll worker",
    "rover",
    "voter",
    "observer",
    "building staff",
    "other",
)


def place_label(place: Place) -> str:
    """How a place is written in the field, and read back from it."""
    return f"{place.id} · {place.name}"


def phase_now(election: Election | None, place: Place | None, now: datetime) -> str:
    """The phase by the clock: what a caller most likely calls about."""
    if election is None:
        return ""
    opens, closes = election.opening(place), election.closing(place)
    if now < opens - timedelta(minutes=45):
        return "set-up"
    if now < opens + timedelta(minutes=15):
        return "opening"
    if now < closes:
        return "voting"
    return "closing" if now < closes + timedelta(hours=2) else "return"


def read(form: Form, incident: Incident) -> tuple[list[Told], list[Place]]:
    """What the notes say that the record does not: events, and places to choose from.

    The record keeps each fact once; only fields that changed are told again.
    """
    place, offered = _place(form)
    reported: dict[str, object] = {
        "place": place,
        "caller_role": form.choice("caller_role", CALLER_ROLES),
        "call_back": form.text("call_back"),
        "phase": form.choice("phase", lists.PHASES),
    }
    asset = form.text("asset")
    at = place or incident.place
    standing = county().record.devices(at) if at else []
    here = {device.asset: device.equipment for device in standing}
    if asset in here:
        reported |= {"asset": asset, "equipment": here[asset]}
    told: list[Told] = []
    shown = as_shown(form, incident)
    if new := changed(reported, incident, shown):
        told.append(Told("incident.reported", new))
    words = form.free_text("words", known=incident.words)
    if new := changed({"words": words}, incident, shown):
        told.append(Told("incident.described", new))
    return told, offered


def from_article(incident: Incident, article: Article) -> list[Told]:
    """What an opened article says of the case: its class, unless a device is named; its symptom.

    The article opened last holds, and the finish of the call can say otherwise.
    """
    told: list[Told] = []
    if incident.asset is None and (new := changed({"equipment": article.equipment}, incident)):
        told.append(Told("incident.reported", new))
    if new := changed({"symptom": article.symptom}, incident):
        told.append(Told("incident.described", new))
    return told


def _place(form: Form) -> tuple[str | None, list[Place]]:
    """The place that was typed; where several fit, they are offered."""
    typed = form.text("place_pick") or form.text("place")
    if not typed:
        return None, []
    record = county().record
    exact = record.place(typed.partition(" · ")[0])
    if exact is not None:
        return exact.id, []
    found = record.find_places(typed, 8)
    if len(found) == 1:
        return found[0].id, []
    form.problems["place"] = (
        "Several places fit. Pick one below."
        if found
        else f"No place fits “{typed}”. Try its number, a word of its name, or its phone."
    )
    return None, found


def changed(
    told: Mapping[str, object], incident: Incident, shown: Incident | None = None
) -> dict[str, object]:
    """Those of the told members that say something other than the incident does.

    `shown` is the incident as the page of the form showed it: a field that still says what was
    shown there is nobody's word, and never undoes what somebody else has told since.
    """
    before = shown or incident
    return {
        name: value
        for name, value in told.items()
        if value not in ("", None)
        and value != getattr(incident, name)
        and value != getattr(before, name)
    }


def as_shown(form: Form, incident: Incident) -> Incident:
    """The incident as it stood when the page of this form was made."""
    seen = form.text("seen")
    if not seen.isdecimal():
        return incident
    return fold(county().record.events(incident=incident.id)[: int(seen)])


def is_shown(shown: Incident, name: str, value: object) -> bool:
    """Whether a field says only what its page showed: that is nobody's draft."""
    held = getattr(shown, name, None)
    if isinstance(held, frozenset):
        return isinstance(value, list) and held == frozenset(value)
    if name == "place":
        value = str(value).partition(" · ")[0]
    return held is not None and str(held) == value
