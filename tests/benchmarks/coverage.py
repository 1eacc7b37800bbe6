"""How often intervals and tests keep their word, by simulation on invented batches of known truth.

    python -m tests.benchmarks.coverage [--times 1000]

Measured on 2026-11-29, section by section with the seeds of a whole run, which takes over half an hour. A share of 1,000 is
known to about 0.014, one of 500 (the last four rows) to 0.02.

- Forecast: steady amounts are held as promised. What comes and goes is nearly always called rare with few batches; where by
  luck it is in eight, or in all, it is not, and less is held. `nan`: always rare.
- Interval of a rate: wide where parts are independent (the correlation towards which the estimate is drawn is 0.1), and
  with one or two batches.
- Two binders: conservative with four batches of each, where few exchanges are to be had, and no difference can be told
  with three. No mid-p value or drawn tie was used to mend that.

    Seed 20261129, 1000 records for each figure, 400 draws.

    Forecast: totals within the 95 % interval; n/m/s: batches on record, sessions planned, parts in each
                                      8/8/17     6/20/17     5/10/17    12/12/40    20/10/17
    normal, sd 0.25                    0.965       0.971       0.975       0.960       0.952
    lognormal, sigma 0.3               0.954       0.962       0.967       0.962       0.951
    lognormal, sigma 0.5               0.935       0.941       0.957       0.953       0.945
    gamma, shape 4                     0.936       0.948       0.962       0.951       0.934

    The same of what comes and goes: share called rare (no 95 %), and totals held of the rest
                                               8/8/17       12/12/17       20/10/17       40/10/17
    in 10% of the batches                   1.00, nan      1.00, nan      1.00, nan    0.96, 0.976
    in 20% of the batches                   1.00, nan      1.00, nan    0.97, 0.964    0.45, 0.976
    in 30% of the batches                   1.00, nan    0.99, 0.571    0.79, 0.966    0.05, 0.960
    in 50% of the batches                 0.99, 0.333    0.81, 0.935    0.15, 0.975    0.00, 0.957
    in 80% of the batches                 0.82, 0.825    0.06, 0.955    0.00, 0.961    0.00, 0.951
    rejects, 10 %, correlation 0          0.83, 0.916    0.05, 0.947    0.00, 0.951    0.00, 0.954
    rejects, 10 %, correlation 0.1        0.98, 0.947    0.45, 0.966    0.01, 0.946    0.00, 0.942
    rejects, 10 %, correlation 0.2        1.00, 0.500    0.81, 0.973    0.10, 0.959    0.00, 0.931

    Interval of a rate: intervals that hold it
    batches of parts, rate                 correlation 0   correlation 0.1   correlation 0.2
    1 of 12 to 12, 5%                              0.996             0.971             0.948
    1 of 12 to 12, 10%                             0.998             0.984             0.955
    1 of 12 to 12, 30%                             1.000             0.985             0.967
    2 of 10 to 14, 5%                              0.993             0.972             0.966
    2 of 10 to 14, 10%                             0.996             0.988             0.968
    2 of 10 to 14, 30%                             0.999             0.989             0.967
    5 of 10 to 24, 5%                              0.998             0.978             0.967
    5 of 10 to 24, 10%                             0.999             0.984             0.959
    5 of 10 to 24, 30%                             0.999             0.969             0.942
    8 of 10 to 24, 5%                              0.995             0.974             0.977
    8 of 10 to 24, 10%                             0.995             0.954             0.941
    8 of 10 to 24, 30%                             0.997             0.968             0.916
    12 of 10 to 24, 5%                             0.995             0.960             0.911
    12 of 10 to 24, 10%                            0.991             0.967             0.935
    12 of 10 to 24, 30%                            0.995             0.949             0.940
    30 of 8 to 24, 5%                              0.969             0.941             0.920
    30 of 8 to 24, 10%                             0.966             0.957             0.936
    30 of 8 to 24, 30%                             0.974             0.947             0.947
    6 of 40 to 40, 5%                              1.000             0.984             0.974
    6 of 40 to 40, 10%                             1.000             0.963             0.916
    6 of 40 to 40, 30%                             1.000             0.968             0.923

    Two binders with one rate: told apart, p < 0.05
    batches of parts, rate                 correlation 0   correlation 0.1   correlation 0.2
    4 and 4 of 10 to 24, 5%                        0.022             0.035             0.022
    4 and 4 of 10 to 24, 10%                       0.023             0.023             0.032
    4 and 4 of 10 to 24, 20%                       0.022             0.028             0.020
    5 and 5 of 10 to 24, 5%                        0.038             0.048             0.056
    5 and 5 of 10 to 24, 10%                       0.048             0.043             0.043
    5 and 5 of 10 to 24, 20%                       0.047             0.039             0.041
    6 and 6 of 8 to 16, 5%                         0.058             0.033             0.034
    6 and 6 of 8 to 16, 10%                        0.060             0.048             0.056
    6 and 6 of 8 to 16, 20%                        0.048             0.054             0.044
    5 and 12 of 10 to 24, 10%                      0.064             0.046             0.040
    8 and 8 of 10 to 14, 10%                       0.030             0.040             0.064
    12 and 12 of 10 to 24, 10%                     0.056             0.048             0.046
    20 and 20 of 8 to 24, 10%                      0.050             0.042             0.044
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np

from impact.core.prediction import ratio_prediction
from impact.core.proportions import Counts, clustered, same_rate
from impact.decisions.planned import Expected, Foreseen

SEED = 20261129
DRAWS = 400
Amount = Callable[[np.random.Generator, np.ndarray], np.ndarray]

STEADY: dict[str, Amount] = {
    "normal, sd 0.25": lambda rng, pressed: pressed * np.maximum(0.0, rng.normal(1.0, 0.25, len(pressed))),
    "lognormal, sigma 0.3": lambda rng, pressed: pressed * rng.lognormal(0.0, 0.3, len(pressed)),
    "lognormal, sigma 0.5": lambda rng, pressed: pressed * rng.lognormal(0.0, 0.5, len(pressed)),
    "gamma, shape 4": lambda rng, pressed: pressed * rng.gamma(4.0, 0.25, len(pressed)),
}
PLANS = ((8, 8, 17), (6, 20, 17), (5, 10, 17), (12, 12, 40), (20, 10, 17))
"""Batches of 10 to 24 parts on record; sessions planned, and parts in each."""


def now_and_then(share: float) -> Amount:
    """Return an amount that occurs in a share of the batches."""

    def drawn(rng: np.random.Generator, pressed: np.ndarray) -> np.ndarray:
        return STEADY["lognormal, sigma 0.3"](rng, pressed) * (rng.random(len(pressed)) < share)

    return drawn


def rejects(rate: float, correlation: float) -> Amount:
    """Return rejects that are beta-binomial with a correlation within a batch."""
    both = 1.0 / correlation - 1.0 if correlation else 0.0

    def drawn(rng: np.random.Generator, pressed: np.ndarray) -> np.ndarray:
        size = len(pressed)
        rates = rng.beta(rate * both, (1.0 - rate) * both, size) if correlation else np.full(size, rate)
        return rng.binomial(pressed.astype(int), rates).astype(float)

    return drawn


def pressed_parts(rng: np.random.Generator, count: int, least: int = 10, most: int = 24) -> np.ndarray:
    """Return the parts pressed in some batches."""
    return rng.integers(least, most + 1, count).astype(float)


def forecasts(amount: Amount, plan: tuple[int, int, int], times: int) -> tuple[float, float]:
    """Return the share of records in which the amount is rare, and of the other totals that their interval holds."""
    count, sessions, each = plan
    rng = np.random.default_rng([SEED, *plan])
    held, rare, planned = 0, 0, float(sessions * each)
    for _ in range(times):
        pressed = pressed_parts(rng, count)
        amounts = amount(rng, pressed)
        truth = float(amount(rng, np.full(sessions, float(each))).sum())
        drawn = ratio_prediction(amounts[:, np.newaxis], pressed, planned, sessions, draws=DRAWS, rng=rng)[:, 0]
        found: Expected = Foreseen(drawn, amounts, pressed, planned, amounts).expected()
        rare += found.rare
        held += not found.rare and found.low <= truth <= found.high
    return rare / times, held / (times - rare) if rare < times else float("nan")


def counts(rng: np.random.Generator, design: tuple[int, int, int], rate: float, correlation: float) -> Counts:
    """Return rejects and parts pressed of some batches of so many to so many parts."""
    pressed = pressed_parts(rng, *design)
    return rejects(rate, correlation)(rng, pressed), pressed


def rates(design: tuple[int, int, int], rate: float, correlation: float, times: int) -> float:
    """Return the share of the intervals of one rate that hold it."""
    rng = np.random.default_rng([SEED, *design])
    ends = [clustered(*counts(rng, design, rate, correlation)) for _ in range(times)]
    return float(np.mean([one.low <= rate <= one.high for one in ends]))


def alarms(design: tuple[int, int, int], other: int, rate: float, correlation: float, times: int) -> float:
    """Return the share of pairs of the same rate that are told apart."""
    rng = np.random.default_rng([SEED, *design, other])
    sides = (design, (other, *design[1:]))
    pairs = ([counts(rng, side, rate, correlation) for side in sides] for _ in range(times))
    return float(np.mean([same_rate(first, second, rng) < 0.05 for first, second in pairs]))


CORRELATIONS = (0.0, 0.1, 0.2)
DESIGNS = {
    **dict.fromkeys(((4, 4, 10, 24), (5, 5, 10, 24), (6, 6, 8, 16)), (0.05, 0.1, 0.2)),
    **dict.fromkeys(((5, 12, 10, 24), (8, 8, 10, 14), (12, 12, 10, 24), (20, 20, 8, 24)), (0.1,)),
}
"""Batches of either binder, least and most parts in one; the rates that are tried."""


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--times", type=int, default=1000)
    times = parser.parse_args().times
    print(f"Seed {SEED}, {times} records for each figure, {DRAWS} draws.\n")
    print("Forecast: totals within the 95 % interval; n/m/s: batches on record, sessions planned, parts in each")
    print(f"{'':28}" + "".join(f"{'/'.join(map(str, plan)):>12}" for plan in PLANS))
    for name, amount in STEADY.items():
        print(f"{name:28}" + "".join(f"{forecasts(amount, plan, times)[1]:12.3f}" for plan in PLANS), flush=True)
    print("\nThe same of what comes and goes: share called rare (no 95 %), and totals held of the rest")
    plans = ((8, 8, 17), (12, 12, 17), (20, 10, 17), (40, 10, 17))
    lumps = {f"in {share:.0%} of the batches": now_and_then(share) for share in (0.1, 0.2, 0.3, 0.5, 0.8)}
    lumps |= {f"rejects, 10 %, correlation {rho:g}": rejects(0.1, rho) for rho in CORRELATIONS}
    print(f"{'':34}" + "".join(f"{'/'.join(map(str, plan)):>15}" for plan in plans))
    for name, amount in lumps.items():
        found = (forecasts(amount, plan, times) for plan in plans)
        print(f"{name:34}" + "".join(f"{f'{rare:.2f}, {held:.3f}':>15}" for rare, held in found), flush=True)
    head = "".join(f"{f'correlation {rho:g}':>18}" for rho in CORRELATIONS)
    print(f"\nInterval of a rate: intervals that hold it\n{'batches of parts, rate':34}{head}")
    for count, least, most in (
        (1, 12, 12),
        (2, 10, 14),
        (5, 10, 24),
        (8, 10, 24),
        (12, 10, 24),
        (30, 8, 24),
        (6, 40, 40),
    ):
        for rate in (0.05, 0.1, 0.3):
            held = (rates((count, least, most), rate, rho, times) for rho in CORRELATIONS)
            row = f"{count} of {least} to {most}, {rate:.0%}"
            print(f"{row:34}" + "".join(f"{share:18.3f}" for share in held), flush=True)
    print(f"\nTwo binders with one rate: told apart, p < 0.05\n{'batches of parts, rate':34}{head}")
    for (count, other, least, most), tried in DESIGNS.items():
        for rate in tried:
            runs = times if len(tried) > 1 else times // 2  # larger designs take their time
            found = (alarms((count, least, most), other, rate, rho, runs) for rho in CORRELATIONS)
            row = f"{count} and {other} of {least} to {most}, {rate:.0%}"
            print(f"{row:34}" + "".join(f"{share:18.3f}" for share in found), flush=True)


if __name__ == "__main__":
    main()
