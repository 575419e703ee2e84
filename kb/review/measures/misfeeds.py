"""Misfeeds of each scanner model, against the benchmark of one in 500 sheets.

Jams, multiple feeds and wrong rejections of good ballots share one count (VVSG 2.0, requirement
1.2-G). Exact one-sided binomial test; limits by Clopper and Pearson (1934).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import Any

from scipy.special import bdtrc

from kb.incidents.lists import is_misfeed
from kb.review.measures.shares import clopper_pearson
from kb.review.rows import UNKNOWN, Case, Material

BENCHMARK = 0.002
LEVEL = 0.05
SCANNER = "scanner"


def tail(count: int, feeds: int, rate: float = BENCHMARK) -> float:
    """P(X >= count) of so many feeds at the benchmark."""
    return float(bdtrc(count - 1, feeds, rate)) if count > 0 else 1.0


def misfeeds(material: Material) -> dict[str, Any]:
    """All misfeeds and feeds, and each model's; feeds are sheets, shared by a place's scanners."""
    cases = [case for case in material.counted if is_misfeed(case.equipment, case.symptom)]
    sheets = {
        place: one.sheets
        for place, one in material.turnout.items()
        if one.sheets and place in material.places
    }
    models = {device.asset: device.model or UNKNOWN for device in material.devices}
    return {
        "total": len(cases),
        "sheets": sum(sheets.values()),
        "models": _models(material, cases, sheets, models),
        "without_asset": sorted(case.id for case in cases if not case.asset),
        "unknown_asset": sorted(
            case.id for case in cases if case.asset and case.asset not in models
        ),
        "benchmark": BENCHMARK,
    }


def _models(
    material: Material, cases: list[Case], sheets: dict[str, int], models: dict[str, str]
) -> dict[str, Any]:
    scanners: defaultdict[str, list[str]] = defaultdict(list)
    for device in material.deployed:
        if device.equipment == SCANNER and device.place in sheets:
            scanners[device.place].append(device.asset)
    feeds: defaultdict[str, float] = defaultdict(float)
    for place, assets in scanners.items():
        for asset in assets:
            feeds[models[asset]] += sheets[place] / len(assets)
    count = Counter(
        models[case.asset] for case in cases if case.asset in models and case.place in sheets
    )
    return {model: _model(count[model], feeds[model]) for model in sorted(feeds)}


def _model(count: int, shared: float) -> dict[str, Any]:
    feeds = round(shared)
    # More misfeeds than sheets: one sheet was fed again and again, and the test says nothing.
    possible = feeds > 0 and count <= feeds
    low, high = clopper_pearson(count, feeds) if possible else (None, None)
    p = tail(count, feeds) if possible else None
    return {
        "k": count,
        "feeds": shared,
        "per_1000": 1000 * count / feeds if feeds else None,
        "low": None if low is None else 1000 * low,
        "high": None if high is None else 1000 * high,
        "p_above": p,
        "flagged": p is not None and p <= LEVEL,
    }
