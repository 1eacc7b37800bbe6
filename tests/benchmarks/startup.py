"""How long the command takes to start and to write a report, next to what it cannot do without.

Prints two ratios, each of the medians of runs taken in turn, and ends with status 1 if one is above its limit:

- `impact --help` over a Python that imports click and nothing else, at most 2;
- `impact report` on the demo workshop over WeasyPrint alone on the same page, at most 2.

Measured on 2026-11-25: `--help` 0.07 s, 1.6 times; the demo's report 15.2 s against 8.7 s by the clock, 1.75 times.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

IMPACT = str(Path(sys.executable).with_name("impact"))
HELP_LIMIT = 2.0
REPORT_LIMIT = 2.0


def seconds(command: list[str]) -> float:
    """Return the wall time of one run. [s]"""
    start = perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return perf_counter() - start


def compare(name: str, ours: list[str], floor: list[str], *, limit: float, runs: int) -> bool:
    """Print how the medians of two commands compare; return whether their ratio keeps to the limit."""
    pairs = [(seconds(ours), seconds(floor)) for _ in range(runs + 1)][1:]  # the first run warms the caches
    our_time, floor_time = (median(times) for times in zip(*pairs, strict=True))
    ratio = our_time / floor_time
    print(f"{name}: {our_time:.2f} s over {floor_time:.2f} s = {ratio:.2f} (limit {limit:g})")
    return ratio <= limit


def main() -> int:
    """Run both comparisons."""
    with tempfile.TemporaryDirectory() as folder:
        demo, html, pdf = (str(Path(folder) / name) for name in ("demo", "page.html", "page.pdf"))
        subprocess.run([IMPACT, "demo", demo], check=True, stdout=subprocess.DEVNULL)
        report = [IMPACT, "report", demo, "--for", "funder", "-o"]
        subprocess.run([*report, html], check=True, stdout=subprocess.DEVNULL)
        within = [
            compare(
                "impact --help over import click",
                [IMPACT, "--help"],
                [sys.executable, "-c", "import click"],
                limit=HELP_LIMIT,
                runs=15,
            ),
            compare(
                "impact report over WeasyPrint alone",
                [*report, pdf, "--force"],
                [sys.executable, "-m", "weasyprint", html, str(Path(folder) / "alone.pdf")],
                limit=REPORT_LIMIT,
                runs=5,
            ),
        ]
    return 0 if all(within) else 1


if __name__ == "__main__":
    sys.exit(main())
