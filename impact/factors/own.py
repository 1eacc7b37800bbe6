"""A workshop's own factor table: its rows in place of, or beside, the shipped ones, under the same checks."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from impact.base.problems import Problem
from impact.factors.factorset import FactorSet, by_key
from impact.factors.rows import COLUMNS, EVIDENCE_WORDS, Factor, RowReader, read_told
from impact.factors.values import FATES

SHARES_AGREE = 1e-6
"""How far the shares of one waste may add up beside 1."""


def read_own_factors(path: Path, shipped: FactorSet) -> tuple[FactorSet, list[Problem]]:
    """Return the factor set with the rows of a workshop's own table in place of, or beside, the shipped ones.

    A row whose id stands in the shipped tables replaces it; any other id adds a row. The same checks
    apply; a blank `evidence` is read as `own value`, a blank `distribution` as fixed, a blank
    `geography` as the one in the id or `world`, and a source need not stand in `sources.csv`. Where the header
    has a fault, the rows are checked as far as that tells nothing untrue.

    Parameters
    ----------
    path : Path
        The table (`factors.csv`); a missing file changes nothing.
    shipped : FactorSet
        The set to start from.
    """
    if not os.path.lexists(path):  # a link that leads nowhere is a fault, and no missing file
        return shipped, []
    gsd = {
        factor.id: factor.value
        for key in shipped.by_key
        if key.startswith("pedigree.")
        for factor in shipped.by_key[key]
    }
    rows, problems, untold = read_told(path, COLUMNS, ("id", "value", "unit", "source", "locator"))
    if "distribution" in untold:
        untold |= {"low", "high"}  # which of them must be there hangs on the distribution
    reader = RowReader(path.name, EVIDENCE_WORDS, gsd, untold)
    known = {factor.id: factor for factors in shipped.by_key.values() for factor in factors}
    own: dict[str, Factor] = {}
    for cells in rows:
        line = int(cells["#"])
        if cells["id"] in own:
            reader.fault(
                line, "id", "duplicate-id", cells["id"], f"stands in row {own[cells['id']].row} already", "an id once"
            )
            continue
        factor = reader.read(line, _completed(cells, known.get(cells["id"])))
        if factor is not None:
            own[factor.id] = factor
    problems += reader.problems
    merged = {**known, **own}
    replaced = {factor_id: known[factor_id] for factor_id in own if factor_id in known}
    factors = FactorSet(by_key(merged.values()), shipped.sources, replaced)
    return factors, [*problems, *([] if untold else _fate_problems(own, factors))]


def _fate_problems(own: Mapping[str, Factor], factors: FactorSet) -> Iterator[Problem]:
    """Yield a problem for each waste and place whose shares, own and shipped together, do not add up to 1."""
    first: dict[tuple[str, str], Factor] = {}
    for factor in own.values():
        if factor.key.startswith("fate."):
            first.setdefault((factor.key.rpartition(".")[0], factor.geography), factor)
    for (waste, place), factor in first.items():
        keys = [f"{waste}.{fate}" for fate in FATES]
        total = sum(factors.choose(key, (place,)).factor.value for key in keys if factors.has(key, (place,)))
        if abs(total - 1.0) > SHARES_AGREE:
            yield Problem(
                "shares-total", factor.file, f"the shares of {waste} for {place} add up to {total:.4g}", row=factor.row,
                column="value", read=factor.published, accepted=f"rows for {', '.join(FATES)} that add up to 1",
            )  # fmt: skip


def _completed(cells: Mapping[str, str], shipped: Factor | None) -> dict[str, str]:
    """Return an own row with its blanks filled: from the row that it replaces, else with plain defaults."""
    tail = cells["id"].split("/")[1:]
    filled = dict(cells)
    filled["what"] = cells["what"] or (shipped.what if shipped else cells["id"] or "a row without id")
    filled["geography"] = cells["geography"] or (tail[0] if tail else (shipped.geography if shipped else "world"))
    filled["edition"] = cells["edition"] or (tail[1] if len(tail) > 1 else (shipped.edition if shipped else ""))
    filled["evidence"] = cells["evidence"] or "own value"
    filled["distribution"] = cells["distribution"] or ("lognormal" if cells["low"] and cells["high"] else "fixed")
    return filled
