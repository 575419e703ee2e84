"""Figures in rows: a rate with its limits, a ratio with its limits, kinds of fault by size."""

from __future__ import annotations

from collections.abc import Sequence

from kb.review.figures.canvas import BOTTOM, TOP, Canvas, Figure
from kb.review.findings import wording
from kb.review.findings.wording import listed
from kb.review.measures.rates import FEW
from kb.review.sections import Review
from kb.review.tables.other import said

ROW = 26
# The least room for the names of rows.
NAMES = 120
KINDS = 12
Line = tuple[str, float, float | None, float | None, bool]


def rates(review: Review) -> Figure | None:
    """Per 1,000 ballots, all and by zone, with exact limits."""
    told = review.sections["rates"]
    lines = {"all places": told["overall"]} | {f"zone {k}": v for k, v in told["by_zone"].items()}
    return _ranges(
        "rates",
        "Faults per 1,000 ballots with 95 % limits",
        "Faults per 1,000 ballots",
        [
            (name, one["rate"], one["low"], one["high"], one["k"] < FEW)
            for name, one in lines.items()
            if one["rate"] is not None
        ],
    )


def devices(review: Review) -> Figure | None:
    """Per 100 devices."""
    return _ranges(
        "devices",
        "Faults per 100 devices with 95 % limits",
        "Faults per 100 devices",
        [
            (wording.equipment(name), one["rate"], one["low"], one["high"], one["k"] < FEW)
            for name, one in review.sections["rates"]["per_100_devices"].items()
            if one["rate"] is not None
        ],
    )


def misfeeds(review: Review) -> Figure | None:
    """Each model's misfeeds, against 2 per 1,000."""
    told = review.sections["misfeeds"]
    return _ranges(
        "misfeeds",
        "Misfeeds per 1,000 sheets with 95 % limits; the line is the benchmark",
        "Misfeeds per 1,000 sheets",
        [
            (name, one["per_1000"], one["low"], one["high"], one["k"] < FEW)
            for name, one in told["models"].items()
            if one["per_1000"] is not None
        ],
        mark=1000 * told["benchmark"],
    )


def ratios(review: Review) -> Figure | None:
    """This election's rate over that of the earlier one it is compared with."""
    lines = [(one, review.sections["before_after"][one.name]) for one in review.comparisons]
    names = ", ".join(sorted({review.name_of(one.before) for one, _ in lines}))
    none = [said(one) for one, line in lines if not line["before_k"] and line["after_k"]]
    return _ranges(
        "ratios",
        f"This election's rate over that of {names}, with 95 % limits; 1 is no change",
        f"Times the rate of {names}",
        [
            (
                said(one),
                line["ratio"],
                line["low"],
                line["high"],
                line["before_k"] + line["after_k"] < FEW,
            )
            for one, line in lines
            if line["ratio"] is not None
        ],
        mark=1.0,
        note=f"None before, so without a ratio: {listed(none)}." if none else "",
    )


def kinds(review: Review) -> Figure | None:
    """The kinds of fault that took most minutes."""
    lines = review.sections["pareto"]["by_minutes"][:KINDS]
    if not lines or not lines[0]["value"]:
        return None
    most = lines[0]["value"]
    names = [wording.kind(line["key"]) for line in lines]
    canvas = _rows("kinds", "Minutes of faults by kind", names, (0, most * 1.08))
    canvas.lower_axis("Minutes to restore, all together")
    for number, line in enumerate(lines):
        y = len(lines) - number - 0.5
        canvas.bar((0, line["value"]), (y - 0.32, y + 0.32))
        _name(canvas, y, names[number])
    return canvas.figure()


def _ranges(  # noqa: PLR0913 - the words around a figure
    name: str,
    title: str,
    across: str,
    lines: Sequence[Line],
    mark: float | None = None,
    note: str = "",
) -> Figure | None:
    if not lines:
        return None
    # One wide interval of a small group must not squeeze all the others.
    ends = sorted(one[3] if one[3] is not None else one[1] * 3 for one in lines)
    top = max(ends[len(ends) // 2] * 1.6, max(one[1] for one in lines) * 1.15, (mark or 0) * 1.3)
    names = [f"{one[0]} (too few to say)" if one[4] else one[0] for one in lines]
    canvas = _rows(name, title, names, (0, top))
    canvas.lower_axis(across)
    if mark is not None:
        canvas.line([(mark, 0), (mark, len(lines))], "centre")
    for number, (_, value, low, high, few) in enumerate(lines):
        y = len(lines) - number - 0.5
        beyond = high is None or high > top
        end = top if beyond or high is None else high
        canvas.line([(low or 0, y), (end, y)], "range few" if few else "range")
        if beyond:
            canvas.goes_on(top, y)
        canvas.dot(value, y, "hollow" if few else "dot", 5)
        _name(canvas, y, names[number])
    return canvas.figure(note)


def _rows(name: str, title: str, names: Sequence[str], x: tuple[float, float]) -> Canvas:
    """A canvas with a row for each name, and room for the longest of them."""
    height = TOP + BOTTOM + ROW * len(names)
    left = max(NAMES, round(6.6 * max(map(len, names))) + 20)
    words = "Every number stands in the table below."
    return Canvas(name, title, words, x, (0, len(names)), height=height, left=left)


def _name(canvas: Canvas, y: float, words: str) -> None:
    _, at = canvas.at(0, y)
    canvas.text(canvas.left - 10, at + 4, words, "end", "label")
