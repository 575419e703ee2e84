"""All numbers of a review, one section a method: what pages, report, bundle and `--json` show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from kb.review.measures.again import recurrence, suspected_duplicates
from kb.review.measures.beforeafter import Comparison, against_last, before_after
from kb.review.measures.charts import charts
from kb.review.measures.compared import Compared, compared
from kb.review.measures.custody import custody
from kb.review.measures.funnel import TAIL_95, against_others, funnel
from kb.review.measures.hotline import hotline
from kb.review.measures.incomplete import incomplete
from kb.review.measures.lost import time_lost
from kb.review.measures.misfeeds import misfeeds
from kb.review.measures.pareto import pareto
from kb.review.measures.rates import FEW, rates
from kb.review.measures.replay import replayed
from kb.review.measures.restore import restore
from kb.review.measures.shared import enrichment
from kb.review.measures.shrink import Gamma, fit, shrinkage
from kb.review.measures.sparing import sparing
from kb.review.measures.totals import totals
from kb.review.measures.training import training
from kb.review.rows import Material

Sections = dict[str, Any]


@dataclass(frozen=True)
class Review:
    """An election with those before it, the oldest first, and all that follows from them.

    `comparisons`: those behind the section `before_after`, by their names. `so_far`: the day is
    not over, and the cut-off is the instant at which the review was made.
    """

    material: Material
    earlier: Sequence[Material]
    sections: Sections
    comparisons: Sequence[Comparison]
    so_far: bool = False

    @cached_property
    def compared(self) -> Compared:
        """The usable places as they are compared with each other."""
        return compared(self.material)

    @cached_property
    def high_places(self) -> dict[str, float]:
        """The adjusted chance of so many faults at each usable place, against the others."""
        return against_others(self.compared, FEW, TAIL_95)

    def name_of(self, election: str) -> str:
        """The name of this election or an earlier one."""
        known = {one.election.id: one.election.name for one in (*self.earlier, self.material)}
        return known[election]


def review(
    material: Material,
    earlier: Sequence[Material] = (),
    asked: Sequence[Comparison] | None = None,
    *,
    so_far: bool = False,
) -> Review:
    """The review of an election with the comparisons asked for; else each class with the last."""
    comparisons = against_last(material, earlier) if asked is None else asked
    made = sections(material, earlier, comparisons)
    return Review(material, earlier, made, comparisons, so_far)


def sections(
    material: Material,
    earlier: Sequence[Material] = (),
    comparisons: Sequence[Comparison] = (),
) -> Sections:
    """The review of an election. `earlier`: the elections before it, the oldest first.

    The value is JSON as it stands; numbers are unrounded, None where a value does not exist.
    """
    places = compared(material)
    gamma = fit(places.k, places.n) if places.places else Gamma(None, None, 0.0)
    return {
        "totals": totals(material),
        "rates": rates(material),
        "charts": charts(places),
        "funnel": funnel(places, gamma),
        "shrinkage": shrinkage(places, gamma),
        "restore": restore(material, earlier),
        "time_lost": time_lost(material),
        "pareto": pareto(material),
        "misfeeds": misfeeds(material),
        "enrichment": enrichment(material),
        "alarms": replayed(material, earlier),
        "before_after": before_after(material, earlier, comparisons),
        "hotline": hotline(material) | {"training": training(material)},
        "spares": sparing(material),
        "recurrence": recurrence(material, earlier),
        "suspected_duplicates": suspected_duplicates(material),
        "incomplete": incomplete(material),
        "custody": custody(material),
    }
