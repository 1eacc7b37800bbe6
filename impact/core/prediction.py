"""What the next pressings will take and give, from batches of which each is as likely to come again.

References
----------
.. [1] W. G. Cochran, "Sampling Techniques", 3rd ed., Wiley, 1977, ch. 6 (ratio estimators; from memory).
.. [2] B. Efron, R. J. Tibshirani, "An Introduction to the Bootstrap", Chapman & Hall, 1993 (resampling; from memory).
"""

from __future__ import annotations

import numpy as np

from impact.core import FloatArray, require, require_positive

CHUNK = 4_000_000
"""Most counts that are held at once."""


def ratio_prediction(
    amounts: FloatArray, pressed: FloatArray, planned: float, *, draws: int, rng: np.random.Generator
) -> FloatArray:
    """Return predicted totals of several amounts for `planned` pressings, row 0 central, then draws.

    The centre is the ratio of the records, planned * sum(amounts) / sum(pressed) [1]_. A draw takes as many
    batches as the plan needs, with replacement, whole, so that what goes together stays together [2]_. Its
    deviation from the centre is stretched by

        sqrt((1 + m/n) * n/(n - 1)) * sqrt((n - 1)/chi2(n - 1))

    for m future and n recorded batches: 1 + m/n because the mean of the records is itself uncertain,
    n/(n - 1) because a resample is narrower than what it was drawn from, and the last root because the spread
    was estimated from n batches (it turns a normal interval into Student's). Amounts never fall below 0.

    Parameters
    ----------
    amounts : ndarray, shape (batches, amounts)
        Amounts of each batch, 0 or more.
    pressed : ndarray, shape (batches,)
        Parts pressed in each batch, above 0. [-]
    planned : float
        Pressings to predict for, above 0. [-]
    draws : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    ndarray, shape (1 + draws, amounts)
        Totals, in the units of `amounts`.

    Raises
    ------
    ValueError
        When there are fewer than two batches, or something pressed or planned is not above 0.
    """
    count = len(pressed)
    require(count >= 2, f"there are {count} batches; accepted: 2 or more")
    require_positive("parts pressed", pressed)
    require_positive("planned pressings", planned)
    centre = planned * amounts.sum(axis=0) / pressed.sum()
    future = max(1, round(planned * count / float(pressed.sum())))
    totals = np.empty((1 + draws, amounts.shape[1]))
    totals[0] = centre
    step = max(1, CHUNK // count)
    for start in range(0, draws, step):
        size = min(step, draws - start)
        times = rng.multinomial(future, np.full(count, 1.0 / count), size=size).astype(float)
        ratio = (times @ amounts) / (times @ pressed)[:, np.newaxis]
        stretch = np.sqrt((1.0 + future / count) * count / rng.chisquare(count - 1, size))
        totals[1 + start : 1 + start + size] = centre + stretch[:, np.newaxis] * (planned * ratio - centre)
    return np.maximum(totals, 0.0)
