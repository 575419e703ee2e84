"""The funnel of the places and their control chart."""

from __future__ import annotations

import numpy as np

from kb.review.compared import compared
from kb.review.figures.canvas import Canvas, Figure
from kb.review.funnel import TAIL_95, TAIL_998, gamma_tails
from kb.review.sections import Review
from kb.review.shrink import Gamma
from kb.review.wording import many

# Names are written beside so many points at most.
NAMED = 12


def funnel(review: Review) -> Figure | None:
    """Each place's rate against its ballots, with limits that allow for unequal places."""
    found = compared(review.material)
    if not found.places or not found.centre:
        return None
    told = review.sections["shrinkage"]
    gamma = Gamma(told["ml_nu"], told["ml_alpha"], told["ml_loglik"])
    out = set(review.sections["funnel"]["gamma_poisson_998_high"])
    sizes = np.linspace(max(0.02, float(found.n.min())), float(found.n.max()) * 1.03, 80)
    wide, narrow = (_limit(sizes, gamma, found.centre, tail) for tail in (TAIL_998, TAIL_95))
    # A tiny place with one fault would flatten all the others: what is higher stands at the edge.
    top = max(float(np.quantile(found.u, 0.9)) * 2, float(narrow[len(narrow) // 4]) * 1.5)
    top = max(
        [
            top,
            *(
                float(found.u[number]) * 1.15
                for number, one in enumerate(found.places)
                if one in out
            ),
        ]
    )
    canvas = Canvas(
        "funnel",
        "Faults per 1,000 ballots of each place, against its ballots",
        f"{len(found.places)} places; {many(len(out), 'place')} above the upper 99.8 % limit: "
        f"{', '.join(sorted(out)) or 'none'}. The table below has every number.",
        (0, float(sizes[-1]) * 1000),
        (0, top),
    )
    canvas.axes("Ballots", "Faults per 1,000 ballots")
    for limit, kind, words in ((wide, "limit", "99.8 %"), (narrow, "limit fine", "95 %")):
        inside = [(1000 * n, y) for n, y in zip(sizes, limit, strict=True) if y <= top]
        canvas.line(inside, kind)
        if inside:
            canvas.label(*inside[-1], words)
    canvas.line([(0, found.centre), (float(sizes[-1]) * 1000, found.centre)], "centre")
    for number, place in enumerate(found.places):
        x, y = 1000 * float(found.n[number]), float(found.u[number])
        canvas.dot(x, min(y, top), "out" if place in out else "dot" if y <= top else "beyond")
        if place in out or y > top:
            words = place if y <= top else f"{place}: {int(found.k[number])} fault, rate {y:.0f}"
            canvas.label(x, min(y, top), words if len(out) <= NAMED else "", above=y <= top)
    return canvas.figure()


def _limit(n: np.ndarray, gamma: Gamma, centre: float, tail: float) -> np.ndarray:
    """The rate from which on a count would be above the limit, for each exposure."""
    counts = np.arange(0, 400.0)
    found = []
    for size in n:
        high, _ = gamma_tails(counts, np.full_like(counts, size), gamma, centre)
        first = int(np.argmax(high <= tail))
        # Between whole numbers, so that the line is no staircase (Spiegelhalter 2005).
        above, below = high[first - 1], high[first]
        part = (above - tail) / (above - below) if above > below else 0.0
        found.append((first - 1 + part) / size)
    return np.array(found)


def chart(review: Review) -> Figure | None:
    """Laney's chart: each place in the order of its number, with its own upper limit."""
    told = review.sections["charts"]
    if not told["limits"] or told["sigma_z"] is None:
        return None
    above = set(told["laney_above"])
    values = list(told["limits"].items())
    highs = sorted(one["laney_high"] for _, one in values)
    top = max(
        highs[int(0.9 * (len(highs) - 1))] * 1.35,
        max((told["limits"][one]["u"] for one in above), default=0) * 1.1,
    )
    top = min(top, highs[-1] * 1.3)
    canvas = Canvas(
        "chart",
        "Each place's rate with its upper limit (Laney's u′ chart)",
        f"{many(len(above), 'place')} above its limit: {', '.join(sorted(above)) or 'none'}. "
        "Tiny places lie above easily: the limits are too narrow at small counts.",
        (-1, len(values)),
        (0, top),
    )
    step = max(1, len(values) // 12)
    named = [(number, values[number][0]) for number in range(0, len(values), step)]
    canvas.axes("Places in the order of their numbers", "Faults per 1,000 ballots", named)
    canvas.line([(-1, told["centre"]), (len(values), told["centre"])], "centre")
    for number, (place, one) in enumerate(values):
        high = min(one["laney_high"], top)
        canvas.line([(number - 0.5, high), (number + 0.5, high)], "limit")
        u = one["u"]
        canvas.dot(number, min(u, top), "out" if place in above else "dot")
        if place in above and len(above) <= NAMED:
            words = place if u <= top else f"{place}: {u:.0f}"
            canvas.label(number, min(u, top), words, above=u <= top)
    return canvas.figure()
