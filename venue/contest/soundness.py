"""Whether what was solved can be true: chances that must come to one are added up, and refused with the number if they
do not. Equations are solved to the last digits or, where scoring is very rare, to none.
"""

from __future__ import annotations

import numpy as np

from venue.contest.effects import Array
from venue.errors import InputError

_MOST_AMISS = 1e-7


def check_certain(chances: Array, what: str) -> None:
    """Raise `InputError` unless chances that must be one are.

    Parameters
    ----------
    chances
        Chances of what is certain, of any shape.
    what
        What is certain, for the message.
    """
    amiss = np.abs(chances - 1.0)
    if amiss.size and not amiss.max() <= _MOST_AMISS:  # NaN is amiss too
        worst = float(chances.ravel()[np.argmax(np.nan_to_num(amiss, nan=np.inf))])
        raise InputError(
            f"the chance {what} comes to {worst:.6g}, must be 1: scores are so rare that the equations have no sure "
            "answer; raise the title's minimum_chance"
        )
