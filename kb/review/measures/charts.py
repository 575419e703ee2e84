"""Control charts of the places: the u-chart, and Laney's u' that allows for unequal places.

u-chart: centre +/- 3 sqrt(centre / n) (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1).
u': with sigma_z the mean moving range of z over 1.128, centre +/- 3 sigma_z sqrt(centre / n)
(Laney, D. B. 2002, "Improved control charts for attributes", Quality Engineering 14, 531-537).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from kb.review.measures.compared import Array, Compared

# d2 of a moving range of two: the mean range over the standard deviation.
D2 = 1.128
SIGMAS = 3
# Places alike to the last digit lie on their limits, never outside by rounding.
_SAME = 1e-9


def sigma_z(found: Compared) -> float | None:
    """How much more the places vary than Poisson, by their moving range; None of under two."""
    if len(found.z) < 2:
        return None
    return float(np.abs(np.diff(found.z)).mean() / D2)


def limits(found: Compared, width: float = 1.0) -> tuple[Array, Array]:
    """Low (never under 0) and high limits of each place's rate, `width` times the Poisson ones."""
    spread = SIGMAS * width * np.sqrt(found.centre / found.n)
    return np.maximum(0.0, found.centre - spread), found.centre + spread


def charts(found: Compared) -> dict[str, Any]:
    """Both charts: which places lie outside, and the upper limits of each."""
    low, high = limits(found)
    width = sigma_z(found)
    laney_low, laney_high = limits(found, width) if width is not None else (low, high)
    known = width is not None
    return {
        "places": len(found.places),
        "centre": found.centre if found.places else None,
        "u_above": found.named(_above(found.u, high)),
        "u_below": found.named(_above(low, found.u)),
        "sigma_z": width,
        "laney_above": found.named(_above(found.u, laney_high)) if known else [],
        "laney_below": found.named(_above(laney_low, found.u)) if known else [],
        "limits": {
            place: {
                "u": float(found.u[number]),
                "u_high": float(high[number]),
                "laney_high": float(laney_high[number]) if known else None,
            }
            for number, place in enumerate(found.places)
        },
    }


def _above(values: Array, limit: Array) -> NDArray[np.bool_]:
    above: NDArray[np.bool_] = values > limit * (1 + _SAME) + _SAME
    return above
