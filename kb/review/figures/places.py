"""The funnel of the places and their control chart."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from kb.review.figures.canvas import Canvas, Figure
from kb.review.findings.finding import LEVEL
from kb.review.findings.wording import many
from kb.review.measures.compared import Array, Compared
from kb.review.measures.funnel import TAIL_95, TAIL_998, gamma_tails
from kb.review.measures.rates import FEW
from kb.review.measures.shrink import Gamma
from kb.review.sections import Review

# Names are written beside so many points at most.
NAMED = 12
SMALL = (
    "Places with fewer than five faults have no name here: their rate says little, however high it "
    "stands."
)


def funnel(review: Review) -> Figure | None:
    """Each place's rate against its ballots, with limits that allow for unequal places."""
    found = review.compared
    if not found.places or not found.centre:
        return None
    told = review.sections["shrinkage"]
    gamma = Gamma(told["ml_nu"], told["ml_alpha"], told["ml_loglik"])
    out = _standing_out(review)
    widest = float(found.n.max()) * 1.03
    # Where nearly nothing was voted a limit lies beyond every paper.
    sizes = np.linspace(max(widest / 60, float(found.n.min())), widest, 80)
    wide, narrow = (_limit(sizes, gamma, found.centre, tail) for tail in (TAIL_998, TAIL_95))
    top = _top(found, float(narrow[len(narrow) // 4]) * 1.5)
    canvas = Canvas(
        "funnel",
        "Faults per 1,000 ballots of each place, against its ballots",
        f"{len(found.places)} places; higher than chance explains: "
        f"{', '.join(sorted(out)) or 'none'}. The table has every number.",
        (0, widest * 1000),
        (0, top),
    )
    canvas.axes("Ballots", "Faults per 1,000 ballots")
    for limit, kind, words in ((wide, "limit", "99.8 %"), (narrow, "limit fine", "95 %")):
        inside = [(1000 * n, y) for n, y in zip(sizes, limit, strict=True) if y <= top]
        canvas.line(inside, kind)
        if inside:
            canvas.label(*inside[-1], words)
    canvas.line([(0, found.centre), (widest * 1000, found.centre)], "centre")
    beyond = 0
    for number, place in enumerate(found.places):
        x, y = 1000 * float(found.n[number]), float(found.u[number])
        beyond += y > top
        canvas.dot(x, min(y, top), "out" if place in out else "dot" if y <= top else "beyond")
        if place in out and len(out) <= NAMED:
            canvas.label(x, min(y, top), place)
    off = f" {many(beyond, 'place')} with few ballots off the scale, at the upper edge."
    return canvas.figure(SMALL + (off if beyond else ""))


def _standing_out(review: Review) -> set[str]:
    """The places of a finding: a diamond says what the words say, and no more."""
    return {place for place, p in review.high_places.items() if p <= LEVEL}


def _top(found: Compared, limits: float) -> float:
    """The upper edge: all places with enough faults to say something lie below it.

    A tiny place with one fault would flatten all the others.
    """
    telling = found.u[found.k >= FEW]
    most = float(telling.max()) * 1.15 if len(telling) else 0.0
    return max(float(np.quantile(found.u, 0.9)) * 2, limits, most)


def _limit(n: Array, gamma: Gamma, centre: float, tail: float) -> Array:
    """The rate from which on a count would be above the limit, for each exposure.

    The tail is taken as a function of any count, whole or not, so that the line is smooth. Where
    a single fault is rare enough, that is the rate of one.
    """

    def over(count: float, size: float) -> float:
        high, _ = gamma_tails(np.array([count]), np.array([size]), gamma, centre)
        return float(high[0]) - tail

    return np.array(
        [
            (brentq(over, 1.0, 1e6, args=(size,)) if over(1.0, size) > 0 else 1.0) / size
            for size in n
        ]
    )


def chart(review: Review) -> Figure | None:
    """Laney's chart: each place in the order of its number, with its own upper limit."""
    told = review.sections["charts"]
    if not told["limits"] or told["sigma_z"] is None:
        return None
    above = set(told["laney_above"])
    values = list(told["limits"].items())
    k = {place: one["k"] for place, one in review.sections["funnel"]["expected"].items()}
    highs = sorted(one["laney_high"] for _, one in values)
    telling = [one["u"] * 1.15 for place, one in values if k[place] >= FEW]
    top = max([highs[int(0.9 * (len(highs) - 1))] * 1.35, *telling]) or 1.0
    canvas = Canvas(
        "chart",
        "Each place's rate with its upper limit (Laney's u′ chart)",
        f"{many(len(above), 'place')} above its limit. The table has every number.",
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
        out = place in above and k[place] >= FEW
        canvas.dot(number, min(one["u"], top), "out" if out else "dot")
        if out and len(above) <= NAMED:
            canvas.label(number, one["u"], place)
    return canvas.figure(f"{SMALL} The limits are too narrow for tiny places.")
