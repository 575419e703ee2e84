"""The funnel of the places and their control chart."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from kb.review.figures.canvas import Canvas, Figure
from kb.review.findings.wording import listed, many
from kb.review.measures.compared import Array, compared
from kb.review.measures.funnel import TAIL_95, TAIL_998, gamma_tails
from kb.review.measures.shrink import Gamma
from kb.review.sections import Review

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
    beyond = float(np.quantile(found.u, 0.9)) * 2
    named = [float(found.u[number]) for number, one in enumerate(found.places) if one in out]
    top = max([beyond, float(narrow[len(narrow) // 4]) * 1.5, *(1.15 * rate for rate in named)])
    canvas = Canvas(
        "funnel",
        "Faults per 1,000 ballots of each place, against its ballots",
        f"{len(found.places)} places; {many(len(out), 'place')} above the upper 99.8 % limit: "
        f"{', '.join(sorted(out)) or 'none'}. The table has every number.",
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
    above = []
    for number, place in enumerate(found.places):
        x, y = 1000 * float(found.n[number]), float(found.u[number])
        canvas.dot(x, min(y, top), "out" if place in out else "dot" if y <= top else "beyond")
        if y > top:
            above.append(place)
        elif place in out and len(out) <= NAMED:
            canvas.label(x, y, place)
    if above:
        told = f"at the upper edge, off the scale: {listed(above)}. Too few ballots to say."
        canvas.label(canvas.x[1] * 0.2, top, told, above=False)
    return canvas.figure()


def _limit(n: Array, gamma: Gamma, centre: float, tail: float) -> Array:
    """The rate from which on a count would be above the limit, for each exposure.

    The tail is taken as a function of any count, whole or not, so that the line is smooth.
    """

    def over(count: float, size: float) -> float:
        high, _ = gamma_tails(np.array([count]), np.array([size]), gamma, centre)
        return float(high[0]) - tail

    return np.array([brentq(over, 1.0, 1e5, args=(size,)) / size for size in n])


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
