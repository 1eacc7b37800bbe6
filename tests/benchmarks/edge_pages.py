"""The PDF of every kind of report at every edge of what workshops record: both standards, and how full its pages are.

    python tests/benchmarks/edge_pages.py [EDGE…]

Without a name every edge of `tests.edges` is made. Prints a row for each report: pages, the emptiest page before the last
with the share of its height that is empty at its foot, the rules of PDF/UA-1 and PDF/A-3a by which the first checker
refuses it, the errors of the second checker, and the processor's time of making it. Ends with status 1 where a standard is
not fulfilled or a page before the last has over a quarter empty.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import process_time

sys.path.append(str(Path(__file__).parents[2]))

from impact.report.kinds import KINDS
from impact.report.request import NothingToSayError
from tests.edges import EDGES, made
from tests.reports import refused
from tests.test_edges import errors
from tests.test_pages import EMPTIEST, emptiness

COLUMNS = "{:<22}{:<8}{:>6}{:>12}  {:<8}{:<8}{:<8}{:>7}"


def faults(pdf: bytes) -> tuple[str, str, str]:
    """Return the rules by which each checker refuses a PDF, as PDF/UA-1, PDF/A-3a and the errors of the second one."""
    with tempfile.TemporaryDirectory() as place:
        broken = errors(pdf, Path(place))
    first, archive = (" ".join(sorted(set(refused(pdf, profile)))) for profile in ("ua1", "3a"))
    return first or "ok", archive or "ok", " ".join(sorted(set(broken))) or "ok"


def row(edge: str, reader: str) -> bool:
    """Print the row of a report; return whether it holds."""
    start = process_time()
    try:
        pdf = made(edge, reader).content(".pdf")
    except NothingToSayError:
        print(COLUMNS.format(edge, reader, "–", "", "nothing to say", "", "", ""), flush=True)
        return True
    seconds = process_time() - start
    shares = emptiness(pdf)
    share, page = max(((share, number) for number, share in enumerate(shares[:-1], 1)), default=(0.0, 0))
    said = faults(pdf)
    emptiest = f"{page}: {share:.0%}" if page else "–"
    print(COLUMNS.format(edge, reader, len(shares), emptiest, *said, f"{seconds:.1f} s"), flush=True)
    return said == ("ok", "ok", "ok") and share <= EMPTIEST


def main(names: list[str]) -> int:
    """Make the reports of the edges of these names, of all without any."""
    unknown = set(names) - set(EDGES)
    if unknown:
        sys.exit(f"no such edge: {', '.join(sorted(unknown))}; there are: {', '.join(EDGES)}")
    print(COLUMNS.format("edge", "kind", "pages", "emptiest", "UA-1", "A-3a", "second", "made in"))
    held = [row(edge, reader) for edge in names or EDGES for reader in KINDS]
    print(f"{sum(held)} of {len(held)} hold")
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
