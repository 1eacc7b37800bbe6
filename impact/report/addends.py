"""Tables of a report whose figures add up, and whether they still do as they are printed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import NamedTuple

from impact.base.language import message


class Sum(NamedTuple):
    """A total and what it is the sum of, as patterns of names: ``{}`` is the same in all of them, ``*`` anything."""

    total: str
    plus: tuple[str, ...]
    minus: tuple[str, ...] = ()


SUMS: Mapping[str, tuple[Sum, ...]] = {
    "landfill": (
        Sum(
            "paper.kept_from_landfill_kg.value",
            ("paper.kept_from_landfill_gross_kg.value",),
            ("paper.returned_to_landfill_kg.value", "paper.fines_off_landfill_kg.value"),
        ),
    ),
    "account": (
        Sum(
            "net_kgco2e.value",
            ("made_kgco2e.value", "disposal.lost_recycling_kgco2e.value"),
            ("disposal.avoided_kgco2e.value", "displaced_plastic_kgco2e.value"),
        ),
    ),
    "grades": (Sum("paper.{}.value", ("paper.by_grade.*.{}",)),),
    "periods": (
        Sum("period_sums.{}", ("periods.{}.*",)),
        Sum("paper.by_grade.{}.collected_kg", ("periods.*.{}",)),
        Sum("paper.collected_kg.value", ("period_sums.*",)),
    ),
    "together": (
        Sum("together.paper.{}_kg.value", ("sites.*.paper.{}_kg.value",)),
        Sum("together.{}_kgco2e.value", ("sites.*.{}_kgco2e.value",)),
    ),
    "disposal": (Sum("disposal.{}.value", ("disposal_by_grade.*.{}",)),),
    "stages": (Sum("parts.{}.footprint_kgco2e.value", ("parts.{}.stages_kgco2e.*",)),),
    "plastic": (Sum("parts.{}.plastic.footprint_kgco2e.value", ("details.{}.plastic_stages_kgco2e.*",)),),
    "register": (
        Sum("paper.weighed_kg.value", ("register.*.paper_kg",)),
        Sum("register_sums.recorded_kwh", ("register.*.recorded_kwh",)),
    ),
    "register_by_month": (
        Sum("paper.weighed_kg.value", ("register_by_month.*.paper_kg",)),
        Sum("register_sums.recorded_kwh", ("register_by_month.*.recorded_kwh",)),
    ),
}
"""The sums of each table."""

ROUNDED = message("Each figure is rounded by itself, so that sums may differ in their last digits.")
"""What stands under a table whose figures do not add up as printed."""


def add_up(tables: Iterable[str], names: Iterable[str], printed: Callable[[str], Decimal | None]) -> bool:
    """Return whether every sum of some tables holds as printed, to the last digit of its total.

    Parameters
    ----------
    tables : iterable of str
        Keys of `SUMS`.
    names : iterable of str
        All figures of the report.
    printed : callable
        Gives a figure by its name as it is printed; None for one that cannot be given.
    """
    known = tuple(names)
    return all(_holds(one, known, printed) for table in tables for one in SUMS[table])


def _holds(one: Sum, names: tuple[str, ...], printed: Callable[[str], Decimal | None]) -> bool:
    for total, same in _matches(one.total, names):
        sides = [
            [number for pattern in patterns for name, _ in _matches(pattern, names, same) if (number := printed(name))]
            for patterns in (one.plus, one.minus)
        ]
        said = printed(total)
        if said is None or not any(sides):
            continue
        if (sum(sides[0], Decimal()) - sum(sides[1], Decimal())).quantize(said) != said:
            return False
    return True


def _matches(pattern: str, names: tuple[str, ...], same: str | None = None) -> list[tuple[str, str]]:
    """Return the names that a pattern fits, each with what ``{}`` is in it, which may be given."""
    inner = "(?P<same>.+)" if same is None else f"(?P<same>{re.escape(same)})"
    fits = re.compile(re.escape(pattern).replace(r"\{\}", inner).replace(r"\*", "[^.].*"))
    found = ((name, fits.fullmatch(name)) for name in names)
    return [(name, hit.groupdict().get("same") or "") for name, hit in found if hit is not None]
