"""Minutes to restore: how long faults lasted, those that never ended counted as long as seen.

Kaplan, E. L. and Meier, P. (1958), "Nonparametric estimation from incomplete observations",
JASA 53, 457-481; variance by Greenwood (1926), limits by the log(-log) transform. Groups are
compared by the log-rank test (Mantel and Haenszel; unweighted).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import gammaincc

from kb.review.measures.compared import Array
from kb.review.measures.spans import lasted
from kb.review.rows import UNKNOWN, Case, Material

Z = 1.959963984540054
# So that an exact tie with a level counts as reached in floating point.
TOLERANCE = 1e-9
LEVELS = {"q25": 0.75, "median": 0.5, "q75": 0.25}


@dataclass(frozen=True)
class Durations:
    """Minutes of some faults, and whether each was restored (else it is open, censored)."""

    minutes: Array
    restored: Array

    def __len__(self) -> int:
        return len(self.minutes)


@dataclass(frozen=True)
class Curve:
    """The share not yet restored after each of the times, with its pointwise 95 % limits."""

    times: Array
    share: Array
    low: Array
    high: Array


def of_cases(cases: Iterable[Case], material: Material) -> Durations:
    """The durations of faults; those without start and negative ones stay out."""
    cut_off = material.cut_off
    told = [
        (found, case.restored is not None)
        for case in cases
        if (found := lasted(case, cut_off)) is not None and found >= 0
    ]
    return durations(told)


def durations(told: Sequence[tuple[float, bool]]) -> Durations:
    """Minutes with whether restored."""
    return Durations(
        np.array([one for one, _ in told], float), np.array([one for _, one in told], float)
    )


def curve(found: Durations) -> Curve:
    """The Kaplan-Meier estimate at each time at which something was restored."""
    times, where = np.unique(found.minutes, return_inverse=True)
    ended = np.bincount(where, weights=found.restored, minlength=len(times))
    gone = np.bincount(where, minlength=len(times))
    at_risk = len(found) - np.concatenate([[0], np.cumsum(gone)[:-1]]) if len(times) else gone
    some = ended > 0
    times, d, n = times[some], ended[some], at_risk[some]
    share = np.cumprod(1 - d / n)
    # Where the share is 0 neither the variance nor log(-log) has a value; its limits are then 0
    # too, as in lifelines, so that the last restoration reaches every level.
    alive = share > 0
    low, high = np.zeros_like(share), np.zeros_like(share)
    variance = np.cumsum(d[alive] / (n[alive] * (n[alive] - d[alive])))
    log = np.log(share[alive])
    width = Z * np.sqrt(variance) / log
    middle = np.log(-log)
    low[alive], high[alive] = np.exp(-np.exp(middle - width)), np.exp(-np.exp(middle + width))
    return Curve(times, share.astype(float), low, high)


def summary(found: Durations) -> dict[str, Any]:
    """Quartiles in minutes with 95 % limits; None where the level is never reached."""
    line = curve(found)
    restored = int(found.restored.sum())
    told: dict[str, Any] = {
        "n": len(found),
        "restored": restored,
        "open": len(found) - restored,
    }
    for name, level in LEVELS.items():
        told[name] = _reached(line.times, line.share, level)
        told[f"{name}_low"] = _reached(line.times, line.low, level)
        told[f"{name}_high"] = _reached(line.times, line.high, level)
    return told


def _reached(times: Array, values: Array, level: float) -> float | None:
    # The limits are not monotone: the first time counts.
    hit = np.flatnonzero(values <= level + TOLERANCE)
    return float(times[hit[0]]) if len(hit) else None


@dataclass(frozen=True)
class LogRank:
    """Chi-square, its degrees of freedom, and the chance of one so large.

    `excess`: restored in the first group above what the others let expect; below 0 it was slower.
    """

    chi2: float
    degrees: int
    p: float
    excess: float


@dataclass(frozen=True)
class _Risk:
    """For each group and each time of a restoration: restored at it, and at risk before it."""

    ended: Array
    at_risk: Array


def _risk(groups: Sequence[Durations]) -> _Risk:
    every = np.concatenate([group.minutes for group in groups])
    restored = np.concatenate([group.restored for group in groups])
    times = np.unique(every[restored > 0])
    ended = np.zeros((len(groups), len(times)))
    at_risk = np.zeros((len(groups), len(times)))
    for row, group in enumerate(groups):
        happened = group.minutes[group.restored > 0]
        ended[row] = np.bincount(np.searchsorted(times, happened), minlength=len(times))
        at_risk[row] = len(group) - np.searchsorted(np.sort(group.minutes), times, side="left")
    return _Risk(ended, at_risk)


def _log_rank(ended: Array, at_risk: Array) -> LogRank | None:
    d, n = ended.sum(axis=0), at_risk.sum(axis=0)
    weight = np.where(n > 1, d * (n - d) / np.maximum(n - 1, 1), 0.0)
    share = at_risk / n
    more = (ended - share * d).sum(axis=1)[:-1]
    spread = (np.diag((share * weight).sum(axis=1)) - (share * weight) @ share.T)[:-1, :-1]
    if not np.any(spread):
        return None
    chi2 = float(more @ np.linalg.pinv(spread, hermitian=True) @ more)
    degrees = len(ended) - 1
    return LogRank(chi2, degrees, float(gammaincc(degrees / 2, chi2 / 2)), float(more[0]))


def restore(material: Material, earlier: Sequence[Material]) -> dict[str, Any]:
    """Quartiles overall, by zone, by equipment and of earlier elections; zones compared."""
    cut_off, faults = material.cut_off, material.faults
    known = [(case, lasted(case, cut_off)) for case in faults]
    fit = [case for case, took in known if took is not None and took >= 0]
    zones = _grouped(fit, material, {case.id: str(case.zone) for case in fit if case.zone})
    classes = _grouped(fit, material, {case.id: case.equipment for case in fit})
    at_once, apart = compare(without_unknown(zones))
    return {
        "excluded": sorted(case.id for case, took in known if took is not None and took < 0),
        "no_start": sorted(case.id for case, took in known if took is None),
        "overall": summary(of_cases(fit, material)),
        "by_zone": {zone: summary(group) for zone, group in zones.items()},
        "by_equipment": {name: summary(group) for name, group in classes.items()},
        "logrank_zones": {
            "chi2": at_once.chi2 if at_once else None,
            "df": at_once.degrees if at_once else None,
            "p": at_once.p if at_once else None,
        },
        "logrank_zone_against_rest": {
            zone: {"chi2": one.chi2 if one else None, "p": one.p if one else None}
            for zone, one in apart.items()
        },
        "past": {one.election.id: summary(of_cases(one.faults, one)) for one in earlier},
    }


def by_zone(material: Material) -> dict[str, Durations]:
    """The durations of the faults of each named zone."""
    zones = {case.id: str(case.zone) for case in material.faults if case.zone}
    return without_unknown(_grouped(material.faults, material, zones))


def without_unknown(zones: Mapping[str, Durations]) -> dict[str, Durations]:
    """The zones that have a name, and something to compare."""
    return {zone: group for zone, group in zones.items() if zone != UNKNOWN and len(group)}


def compare(
    groups: Mapping[str, Durations],
) -> tuple[LogRank | None, dict[str, LogRank | None]]:
    """The log-rank test of all groups at once, and of each against all the others."""
    if len(groups) < 2:
        return None, dict.fromkeys(groups)
    risk = _risk(list(groups.values()))
    d, n = risk.ended.sum(axis=0), risk.at_risk.sum(axis=0)
    apart = {
        name: _log_rank(
            np.stack([risk.ended[row], d - risk.ended[row]]),
            np.stack([risk.at_risk[row], n - risk.at_risk[row]]),
        )
        for row, name in enumerate(groups)
    }
    return _log_rank(risk.ended, risk.at_risk), apart


def _grouped(
    cases: Iterable[Case], material: Material, names: Mapping[str, str]
) -> dict[str, Durations]:
    groups: defaultdict[str, list[Case]] = defaultdict(list)
    for case in cases:
        if case.id in names:
            groups[names[case.id]].append(case)
    return {name: of_cases(groups[name], material) for name in sorted(groups)}
