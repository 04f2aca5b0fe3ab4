"""Control variates: the chance in a run whose mean is known, taken out of what is measured.

A value y that goes with a control c of known mean 0 is replaced by y - b c, b being the slope of y on c (Lavenberg &
Welch 1981, "A perspective on the use of control variables to increase the efficiency of Monte Carlo simulations",
Management Science 27(3)). A slope fitted to the same replications would bias the mean and narrow the interval too
much, so each replication has the slope fitted to all others (splitting; Nelson 1990, "Control variate remedies",
Operations Research 38(6)): it is independent of the control that it is applied to, so the mean stays unbiased, and the
values can be used like any others. All of it is linear in y, so that what adds up goes on adding up.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

# Fewer replications say too little of the slope.
LEAST = 8


def steadied(values: Sequence[float], controls: Sequence[float]) -> list[float]:
    """Values of replications without the part that goes with their controls, which have mean 0.

    As they are where there are fewer than eight, or where any value or control is not known.
    """
    count = len(values)
    y, c = np.array(values, dtype=float), np.array(controls, dtype=float)
    if count < LEAST or not (np.isfinite(y).all() and np.isfinite(c).all()) or np.ptp(c) == 0.0:
        return list(values)
    centred, rest = y - y.mean(), count - 1
    other_c, other_y = c.sum() - c, -centred
    squares = (c @ c - c * c) - other_c**2 / rest
    products = (c @ centred - c * centred) - other_c * other_y / rest
    found: list[float] = (y - products / squares * c).tolist()
    return found


def variance_ratio(values: Sequence[float], controls: Sequence[float]) -> float:
    """Variance of values over their variance when steadied: so many times more replications would be as precise."""
    before, after = np.var(values), np.var(steadied(values, controls))
    return float(before / after) if after > 0.0 else float("nan")
