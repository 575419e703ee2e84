"""All numbers of a review, one section a method: what pages, report, bundle and `--json` show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from kb.review.again import recurrence, suspected_duplicates
from kb.review.beforeafter import Comparison, against_last, before_after
from kb.review.charts import charts
from kb.review.compared import compared
from kb.review.custody import custody
from kb.review.funnel import funnel
from kb.review.hotline import hotline
from kb.review.incomplete import incomplete
from kb.review.lost import time_lost
from kb.review.misfeeds import misfeeds
from kb.review.pareto import pareto
from kb.review.rates import rates
from kb.review.replay import replayed
from kb.review.restore import restore
from kb.review.rows import Material
from kb.review.shared import enrichment
from kb.review.shrink import Gamma, fit, shrinkage
from kb.review.sparing import sparing
from kb.review.totals import totals
from kb.review.training import training

Sections = dict[str, Any]


@dataclass(frozen=True)
class Review:
    """An election with those before it, the oldest first, and all that follows from them.

    `comparisons`: those behind the section `before_after`, by their names.
    """

    material: Material
    earlier: Sequence[Material]
    sections: Sections
    comparisons: Sequence[Comparison]

    def name_of(self, election: str) -> str:
        """The name of this election or an earlier one."""
        known = {one.election.id: one.election.name for one in (*self.earlier, self.material)}
        return known[election]


def review(
    material: Material,
    earlier: Sequence[Material] = (),
    asked: Sequence[Comparison] | None = None,
) -> Review:
    """The review of an election with the comparisons asked for; else each class with the last."""
    comparisons = against_last(material, earlier) if asked is None else asked
    return Review(material, earlier, sections(material, earlier, comparisons), comparisons)


def sections(
    material: Material,
    earlier: Sequence[Material] = (),
    comparisons: Sequence[Comparison] | None = None,
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
        "before_after": before_after(
            material,
            earlier,
            against_last(material, earlier) if comparisons is None else comparisons,
        ),
        "hotline": hotline(material) | {"training": training(material)},
        "spares": sparing(material),
        "recurrence": recurrence(material, earlier),
        "suspected_duplicates": suspected_duplicates(material),
        "incomplete": incomplete(material),
        "custody": custody(material),
    }
