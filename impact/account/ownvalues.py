"""A workshop's own factor values, and the headline figures that they are seen against."""

from __future__ import annotations

from dataclasses import dataclass

from impact.account.results import Interval, Results
from impact.account.sums import Emissions
from impact.base.serial import inlined, named, shows
from impact.factors.rows import Factor


@shows(
    named("id", "factor.id"),
    named("unit", "factor.unit"),
    named("value", "factor.value"),
    "shipped_id",
    "shipped_value",
)
@dataclass(frozen=True, slots=True)
class OwnValue:
    """An own row that the calculation used.

    Attributes
    ----------
    factor : Factor
        The own row.
    shipped : Factor or None
        The shipped row in whose place it stands; None when the tables have none for this place.
    """

    factor: Factor
    shipped: Factor | None

    @property
    def shipped_id(self) -> str | None:
        """Id of the shipped row."""
        return self.shipped.id if self.shipped else None

    @property
    def shipped_value(self) -> float | None:
        """Value of the shipped row, in the unit of the own one."""
        return self.shipped.value if self.shipped else None


@shows()
@dataclass(frozen=True, slots=True)
class PartFootprint:
    """Footprint of a part, per good part; None where no good part was made. [kgCO2e]"""

    part: str
    footprint_kgco2e: Interval | None


@shows(inlined("emissions"), "parts")
@dataclass(frozen=True, slots=True)
class KeyFigures:
    """The figures that a reader takes away: the account of the period, and the footprint of each part. [kgCO2e]"""

    emissions: Emissions
    parts: tuple[PartFootprint, ...]

    @classmethod
    def of(cls, results: Results) -> KeyFigures:
        """Return the headline figures of an assessment."""
        disposal = results.disposal
        emissions = Emissions(
            results.made, disposal.avoided, disposal.lost_recycling, results.displaced_plastic, results.net
        )
        return cls(emissions, tuple(PartFootprint(part.part, part.footprint) for part in results.parts))


@shows()
@dataclass(frozen=True, slots=True)
class OwnValues:
    """Every own value that was used, and the headline figures without them.

    Attributes
    ----------
    rows : tuple of OwnValue
        In the order of their ids.
    with_shipped : KeyFigures or None
        The figures with the shipped tables alone; None when these lack a factor.
    """

    rows: tuple[OwnValue, ...]
    with_shipped: KeyFigures | None
