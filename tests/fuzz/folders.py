"""Whole folders drawn from seeds and held to the laws of `tests/drawn.py`: `python tests/fuzz/folders.py [NUMBER] [FIRST]`.

By default 5,000 folders, seeds 1000 to 5999; the suite has seeds 0 to 199. A finding is any exception: the seed is printed
once for each place in the code, and the run goes on. Ends with status 1 after a finding.
"""

from __future__ import annotations

import sys
import traceback
import warnings
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))


def main(number: int = 5000, first: int = 1000) -> int:
    """Draw the folders; return how many kinds of findings there were."""
    from tests.drawn import LAWS, check

    found: Counter[str] = Counter()
    accepted = 0
    warnings.simplefilter("error")
    for seed in range(first, first + number):
        try:
            accepted += check(seed)
        except Exception as error:
            ours = [one for one in traceback.extract_tb(error.__traceback__) if "impact/" in one.filename]
            place = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else LAWS[seed % len(LAWS)].__name__
            kind = f"{type(error).__name__} {place}"
            found[kind] += 1
            if found[kind] == 1:
                print(f"seed {seed}, {LAWS[seed % len(LAWS)].__name__}: {kind}: {str(error)[:400]}", flush=True)
    print(f"{number} folders from seed {first}, {accepted} accepted, {sum(found.values())} findings: {dict(found)}")
    return len(found)


if __name__ == "__main__":
    sys.exit(1 if main(*map(int, sys.argv[1:])) else 0)
