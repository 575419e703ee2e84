"""What the pages of the review share: the review asked for by the address, worked out once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from flask import request

from kb.base.clock import now
from kb.base.errors import NotFound
from kb.incidents.actions import Action
from kb.incidents.places import Election
from kb.incidents.store import Record
from kb.review import store
from kb.review.findings.board import findings
from kb.review.findings.finding import Finding, limits, number
from kb.review.measures.beforeafter import every_class
from kb.review.narrowing import PARTS, Narrowing, narrow, narrow_all
from kb.review.rows import bare
from kb.review.sections import Review, review
from kb.web.county import county
from kb.web.shown import zone

# So many reviews are kept: a manager goes back and forth between a few.
KEPT = 4


@dataclass(frozen=True)
class Asked:
    """What the address asks for; `so_far`: the day is not over, so the cut-off is now."""

    election: Election
    narrowing: Narrowing
    so_far: bool

    @property
    def address(self) -> dict[str, str]:
        """The same as arguments of an address, for links that keep it."""
        told = {"election": self.election.id} | vars(self.narrowing)
        return {name: value for name, value in told.items() if value}


def asked() -> Asked | None:
    """What this request asks for; None where no election is set up.

    Without a choice, the last election whose day is over, else the one at hand. Raises NotFound
    for an election that is not there.
    """
    elections = county().record.elections()
    chosen = request.args.get("election", "")
    if chosen:
        election = next((one for one in elections if one.id == chosen), None)
        if election is None:
            raise NotFound(f"There is no election '{chosen}'. Choose one from the list.")
    else:
        past = [one for one in elections if bare(one).cut_off <= now()]
        election = past[-1] if past else county().election(now())
    if election is None:
        return None
    part = request.args.get("part", "")
    told = {name: request.args.get(name, "")[:64] for name in ("zone", "kind", "phase")}
    narrowing = Narrowing(**told, part=part if part in PARTS else "")
    return Asked(election, narrowing, bare(election).cut_off > now())


def asked_or_404() -> Asked:
    """The same, where there is nothing to show without an election: raises NotFound."""
    wanted = asked()
    if wanted is None:
        raise NotFound("No election is set up yet. An administrator imports one first.")
    return wanted


@dataclass
class Look:
    """A review with its findings, worked out when first asked for."""

    review: Review

    @cached_property
    def findings(self) -> list[Finding]:
        """What stands out."""
        with store.uncollected():
            return findings(self.review)


def look(wanted: Asked, *, against: str = "") -> Look:
    """The review asked for; `against`: compared with this earlier election, not with the last."""
    return _kept.of(county().record, wanted, against)


@dataclass(frozen=True)
class After:
    """What the next election brought: the number of an action's measure, with its limits."""

    election: Election
    value: float | None
    limits: tuple[float, float] | None

    def by_chance(self, base: float | None) -> bool:
        """Whether what was there before lies within these limits."""
        told = self.limits
        return base is not None and told is not None and told[0] <= base <= told[1]


def after(action: Action) -> After | None:
    """The number of an action's measure in the next election, once its day is over."""
    elections = county().record.elections()
    own = next((one for one in elections if one.id == action.election), None)
    later = [one for one in elections if own and one.date > own.date]
    if not (later and action.measure) or bare(later[0]).cut_off > now():
        return None
    sections = look(Asked(later[0], Narrowing(), so_far=False)).review.sections
    value = number(sections, action.measure)
    return After(later[0], value, limits(sections, action.measure))


def today() -> date:
    """The county's day, by its own clock."""
    return now().astimezone(ZoneInfo(zone())).date()


class _Kept:
    """Reviews as worked out last; another entry in the record makes them anew."""

    def __init__(self) -> None:
        self._found: OrderedDict[object, Look] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, record: Record, wanted: Asked, against: str) -> Look:
        """One review, from memory where nothing was added since."""
        state = tuple((one.id, record.log_size(one.id)) for one in record.elections())
        # The next whole minute: what began just now lies before it.
        whole = now().replace(second=0, microsecond=0) + timedelta(minutes=1)
        minute = whole if wanted.so_far else None
        key = (id(record), wanted, against, record.log_size(""), state, minute)
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return self._found[key]
        with store.uncollected():
            made = Look(_work_out(record, wanted, against, minute))
        with self._lock:
            self._found[key] = made
            while len(self._found) > KEPT:
                self._found.popitem(last=False)
        return made


_kept = _Kept()


def _work_out(record: Record, wanted: Asked, against: str, minute: datetime | None) -> Review:
    election = wanted.election
    material = store.read(record, election)
    if minute is not None:
        material = material.until(minute)
    earlier = store.earlier(record, election, {against} if against else ())
    material = narrow(material, wanted.narrowing)
    earlier = narrow_all(earlier, wanted.narrowing)
    comparisons = every_class(material, against) if against else None
    return review(material, earlier, comparisons, so_far=minute is not None)
