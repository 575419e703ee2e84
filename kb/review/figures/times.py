"""Times: how long faults lasted, and the hotline by half hour."""

from __future__ import annotations

from kb.review.figures.canvas import Canvas, Figure
from kb.review.findings.wording import plain
from kb.review.measures.compared import Array
from kb.review.measures.restore import Curve, curve, of_cases
from kb.review.rows import UNKNOWN
from kb.review.sections import Review


def restored(review: Review) -> Figure | None:
    """The share not yet restored, of all and of the zone that differs most."""
    material, told = review.material, review.sections["restore"]
    faults = material.faults
    whole = of_cases(faults, material)
    if not len(whole) or not whole.restored.any():
        return None
    line = curve(whole)
    against = {
        zone: one["p"]
        for zone, one in told["logrank_zone_against_rest"].items()
        if one["p"] is not None and zone != UNKNOWN
    }
    zone = min(against, key=lambda name: (against[name], name), default=None)
    most = float(
        line.times[line.share >= 0.03][-1] if (line.share >= 0.03).any() else line.times[-1]
    )
    words = f"Half of all were over after {plain(told['overall']['median'])} minutes."
    canvas = Canvas(
        "restore",
        "Share of faults not yet restored, by minutes since they began",
        words + (f" The other line is zone {zone}." if zone else ""),
        (0, most),
        (0, 1),
    )
    canvas.axes(
        "Minutes since the start",
        "Not yet restored",
        [(one, f"{one:,g}") for one in _minutes(most)],
        lambda value: f"{value:.0%}" if 0 <= value <= 1 else f"{value:g}",
    )
    band = [*_steps(line, line.high, most), *reversed(_steps(line, line.low, most))]
    canvas.area(band, "band")
    canvas.line(_steps(line, line.share, most), "main")
    canvas.label(*_middle(_steps(line, line.share, most)), "all faults", above=False, left=True)
    if zone:
        own = curve(of_cases([case for case in faults if case.zone == zone], material))
        canvas.line(_steps(own, own.share, most), "other")
        canvas.label(*_middle(_steps(own, own.share, most)), f"zone {zone}")
    return canvas.figure()


def _minutes(most: float) -> list[float]:
    step = next((one for one in (5, 10, 15, 30, 60, 120, 240) if most / one <= 8), 480)
    return [float(value) for value in range(0, int(most) + 1, step)]


def _steps(line: Curve, values: Array, most: float) -> list[tuple[float, float]]:
    points, height = [(0.0, 1.0)], 1.0
    for time, value in zip(line.times, values, strict=True):
        if time > most:
            break
        points += [(float(time), height), (float(time), float(value))]
        height = float(value)
    return [*points, (most, height)]


def _middle(points: list[tuple[float, float]]) -> tuple[float, float]:
    return next((point for point in points if point[1] <= 0.5), points[-1])


def calls(review: Review) -> Figure | None:
    """Calls by half hour: answered in time, and not."""
    lines = review.sections["hotline"]["half_hours"]
    if not review.sections["hotline"]["offered"]:
        return None
    names = list(lines)
    most = max(line["offered"] for line in lines.values())
    surely = set(review.sections["hotline"]["surely_understaffed"])
    canvas = Canvas(
        "calls",
        "Calls by half hour, and those answered within 20 seconds",
        f"{review.sections['hotline']['offered']} calls. Surely under 80 %: "
        f"{', '.join(sorted(surely)) or 'none'}; they are marked with a diamond.",
        (0, len(names)),
        (0, most * 1.12),
    )
    # Each second hour by the clock, whatever the window begins with.
    hours = [
        (n, name) for n, name in enumerate(names) if name[2:5] == ":00" and int(name[:2]) % 2 == 0
    ]
    canvas.axes("Local time", "Calls", hours or [(0, names[0])])
    for number, (name, line) in enumerate(lines.items()):
        offered, seen = line["offered"], line["observed"] or 0
        canvas.bar((number + 0.12, number + 0.88), (0, offered), "pillar empty")
        canvas.bar((number + 0.12, number + 0.88), (0, seen * offered))
        if name in surely:
            canvas.dot(number + 0.5, offered + most * 0.05, "out")
    return canvas.figure()
