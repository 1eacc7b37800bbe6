"""The PDF of every kind of report at every edge of what workshops record: both standards, and how full its pages are.

    python tests/benchmarks/edge_pages.py [EDGE… KIND…] [--into FOLDER]

Without the name of an edge every edge of `tests.edges` is made, without that of a kind every kind; the reports are left in
the folder, if there is one. Prints a row for each report: pages, the emptiest page before the last
with the share of its height that is empty at its foot, the rules of PDF/UA-1 and PDF/A-3a by which the first checker
refuses it, the errors of the second checker, and the processor's time of making it. Ends with status 1 where a standard is
not fulfilled or a page before the last has over a quarter empty.
"""

from __future__ import annotations

import argparse
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


def row(edge: str, reader: str, into: Path | None) -> bool:
    """Print the row of a report, and leave it in a folder; return whether it holds."""
    start = process_time()
    try:
        pdf = made(edge, reader).content(".pdf")
    except NothingToSayError:
        print(COLUMNS.format(edge, reader, "–", "", "nothing to say", "", "", ""), flush=True)
        return True
    seconds = process_time() - start
    if into is not None:
        into.mkdir(parents=True, exist_ok=True)
        (into / f"{edge}-{reader}.pdf").write_bytes(pdf)
    shares = emptiness(pdf)
    share, page = max(((share, number) for number, share in enumerate(shares[:-1], 1)), default=(0.0, 0))
    said = faults(pdf)
    emptiest = f"{page}: {share:.0%}" if page else "–"
    print(COLUMNS.format(edge, reader, len(shares), emptiest, *said, f"{seconds:.1f} s"), flush=True)
    return said == ("ok", "ok", "ok") and share <= EMPTIEST


def main() -> int:
    """Make the reports that the arguments name."""
    asked = argparse.ArgumentParser(description="measure the pages of reports at the edges of what workshops record")
    asked.add_argument(
        "names", nargs="*", choices=[[], *EDGES, *KINDS], metavar="NAME", help="an edge or a kind of report"
    )
    asked.add_argument("--into", type=Path, help="folder to leave the reports in")
    options = asked.parse_args()
    edges, readers = ([name for name in options.names if name in known] or known for known in (EDGES, KINDS))
    print(COLUMNS.format("edge", "kind", "pages", "emptiest", "UA-1", "A-3a", "second", "made in"))
    held = [row(edge, reader, options.into) for edge in edges for reader in readers]
    print(f"{sum(held)} of {len(held)} hold")
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
