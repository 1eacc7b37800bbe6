"""How long the commands take, next to what they cannot do without.

Prints ratios, each of the best of three runs taken in turn by the clock, and ends with status 1 if one is above its limit:

- `impact --help` over a Python that imports click and nothing else;
- the commands that people wait for, over `reference.py`: two libraries imported, four charts drawn, one long table laid out.

A limit is what a quiet machine takes and a tenth more, so that what gets slower is seen; an aim is where we want to be and are not.
"""

from __future__ import annotations

import platform
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

IMPACT = str(Path(sys.executable).with_name("impact"))
REFERENCE = [sys.executable, str(Path(__file__).with_name("reference.py"))]
RUNS = 3
HELP_LIMIT = 2.0


def seconds(command: list[str]) -> float:
    """Return the wall time of one run; a command may end with status 1, as one that finds doubts does. [s]"""
    start = perf_counter()
    done = subprocess.run(command, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} ends with status {done.returncode}")
    return perf_counter() - start


def compare(name: str, ours: list[str], floor: list[str], *, limit: float, aim: float | None = None) -> bool:
    """Print how the best times of two commands compare; return whether their ratio keeps to the limit."""
    pairs = [(seconds(ours), seconds(floor)) for _ in range(RUNS + 1)][1:]  # the first run warms the caches
    our_time, floor_time = (min(times) for times in zip(*pairs, strict=True))
    ratio = our_time / floor_time
    wanted = f", aim {aim:g}" if aim is not None else ""
    print(f"{name}: {our_time:.2f} s over {floor_time:.2f} s = {ratio:.2f} (limit {limit:g}{wanted})", flush=True)
    return ratio <= limit


def main() -> int:
    """Run all comparisons."""
    with tempfile.TemporaryDirectory() as folder:
        demo, pdf, other = (str(Path(folder) / name) for name in ("demo", "page.pdf", "other"))
        subprocess.run([IMPACT, "demo", demo], check=True, stdout=subprocess.DEVNULL)
        report = {
            kind: [IMPACT, "report", demo, "--for", kind, "-o", pdf, "--force"]
            for kind in ("funder", "binder", "school")
        }
        commands = {
            "report for a funder": (report["funder"], 2.6, 2.0),
            "report on binders": (report["binder"], 1.1, None),
            "report for a school": (report["school"], 1.0, None),
            "verify of the funder's": ([IMPACT, "verify", str(Path(demo) / "reports" / "funder.pdf")], 2.7, None),
            "totals": ([IMPACT, "totals", demo], 0.26, 0.2),
            "check": ([IMPACT, "check", demo], 0.2, None),
            "demo": ([IMPACT, "demo", other], 3.5, None),
        }
        print(f"{platform.machine()}, {platform.system()}, Python {platform.python_version()}")
        click = [sys.executable, "-c", "import click"]
        within = [compare("--help over import click", [IMPACT, "--help"], click, limit=HELP_LIMIT)]
        within += [
            compare(name, command, REFERENCE, limit=limit, aim=aim) for name, (command, limit, aim) in commands.items()
        ]
    return 0 if all(within) else 1


if __name__ == "__main__":
    sys.exit(main())
