"""What the next pressings will take and give, from batches of which each is as likely to come again.

References
----------
.. [1] W. G. Cochran, "Sampling Techniques", 3rd ed., Wiley, 1977, ch. 6 (ratio estimators; from memory).
.. [2] B. Efron, R. J. Tibshirani, "An Introduction to the Bootstrap", Chapman & Hall, 1993 (resampling; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from impact.core import FloatArray, require, require_positive

CHUNK = 4_000_000
"""Most counts that are held at once."""


@dataclass(frozen=True)
class Guessed:
    """What of the amounts and of the parts pressed hangs on a rate that nobody recorded, in proportion to its odds.

    Attributes
    ----------
    amounts, pressed : ndarray, shape (batches, amounts), (batches,)
        At the central rate.
    odds : ndarray, shape (1 + draws,)
        Odds over those of the central rate; the first is 1. [-]
    """

    amounts: FloatArray
    pressed: FloatArray
    odds: FloatArray


def ratio_prediction(
    amounts: FloatArray,
    pressed: FloatArray,
    planned: float,
    sessions: int,
    *,
    draws: int,
    rng: np.random.Generator,
    guessed: Guessed | None = None,
) -> FloatArray:
    """Return predicted totals of several amounts for `planned` pressings in some sessions, row 0 central, then draws.

    The centre is the ratio of the records, planned * sum(amounts) / sum(pressed) [1]_. A draw takes one batch for each
    session, with replacement, whole, so that what goes together stays together [2]_: a session of any size scatters like a
    batch. Its deviation from the centre is stretched by

        sqrt((1 + m/n) * n/(n - 2)) * sqrt((n - 2)/chi2(n - 2))

    for m sessions and n recorded batches: 1 + m/n because the mean of the records is itself uncertain, n/(n - 2) because a
    resample is narrower than what it was drawn from, and the last root because the spread was estimated from n batches (it
    turns a normal interval into Student's). One degree of freedom more than the mean takes is given up because amounts are
    skewed: a choice of ours, by `tests/benchmarks/coverage.py`. Amounts never fall below 0.

    Parameters
    ----------
    amounts : ndarray, shape (batches, amounts)
        Amounts of each batch, 0 or more.
    pressed : ndarray, shape (batches,)
        Parts pressed in each batch, above 0. [-]
    planned : float
        Pressings to predict for, above 0. [-]
    sessions : int
        Sessions that they are made in, 1 or more.
    draws : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.
    guessed : Guessed, optional
        Part of the amounts that differs by draw.

    Returns
    -------
    ndarray, shape (1 + draws, amounts)
        Totals, in the units of `amounts`.

    Raises
    ------
    ValueError
        When there are fewer than three batches, no session, or something pressed or planned is not above 0.
    """
    count = len(pressed)
    require(count >= 3, f"there are {count} batches; accepted: 3 or more")
    require_positive("parts pressed", pressed)
    require_positive("planned pressings", planned)
    require_positive("sessions", float(sessions))

    def ratios(times: FloatArray, odds: FloatArray) -> FloatArray:
        """Return the amounts per part pressed of some batches, of each row of the times that each is taken."""
        above, below = times @ amounts, times @ pressed
        if guessed is not None:
            above = above + odds[:, np.newaxis] * (times @ guessed.amounts)
            below = below + odds * (times @ guessed.pressed)
        return np.asarray(planned * above / below[:, np.newaxis])

    if guessed is not None:
        amounts, pressed = amounts - guessed.amounts, pressed - guessed.pressed
    odds = np.ones(1 + draws) if guessed is None else guessed.odds
    totals = np.empty((1 + draws, amounts.shape[1]))
    totals[:1] = ratios(np.ones((1, count)), odds[:1])
    step = max(1, CHUNK // count)
    for start in range(0, draws, step):
        size = min(step, draws - start)
        times = rng.multinomial(sessions, np.full(count, 1.0 / count), size=size).astype(float)
        stretch = np.sqrt((1.0 + sessions / count) * count / rng.chisquare(count - 2, size))
        drawn = slice(1 + start, 1 + start + size)
        centre = totals[:1] if guessed is None else ratios(np.ones((size, count)), odds[drawn])
        totals[drawn] = centre + stretch[:, np.newaxis] * (ratios(times, odds[drawn]) - centre)
    return np.maximum(totals, 0.0)
