"""A workshop's own factor values, and the headline figures that they are seen against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from impact.account.results import Interval, Results
from impact.factors.rows import Factor


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


@dataclass(frozen=True, slots=True)
class Headline:
    """The figures that a reader takes away. [kgCO2e]

    Attributes
    ----------
    made, avoided, lost_recycling, displaced_plastic, net : Interval
        Lines of the account of the period.
    parts : mapping of str to Interval or None
        Footprint of each part, per good part; None where no good part was made.
    """

    made: Interval
    avoided: Interval
    lost_recycling: Interval
    displaced_plastic: Interval
    net: Interval
    parts: Mapping[str, Interval | None]

    @classmethod
    def of(cls, results: Results) -> Headline:
        """Return the headline figures of an assessment."""
        return cls(
            made=results.made,
            avoided=results.disposal.avoided,
            lost_recycling=results.disposal.lost_recycling,
            displaced_plastic=results.displaced_plastic,
            net=results.net,
            parts={part.part: part.footprint for part in results.parts},
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the figures as the JSON contract has them."""
        parts = [
            {"part": name, "footprint_kgco2e": footprint.as_dict() if footprint else None}
            for name, footprint in self.parts.items()
        ]
        return {
            "made_kgco2e": self.made.as_dict(),
            "avoided_kgco2e": self.avoided.as_dict(),
            "lost_recycling_kgco2e": self.lost_recycling.as_dict(),
            "displaced_plastic_kgco2e": self.displaced_plastic.as_dict(),
            "net_kgco2e": self.net.as_dict(),
            "parts": parts,
        }


@dataclass(frozen=True, slots=True)
class OwnValues:
    """Every own value that was used, and the headline figures without them.

    Attributes
    ----------
    rows : tuple of OwnValue
        In the order of their ids.
    with_shipped : Headline or None
        The figures with the shipped tables alone; None when these lack a factor.
    """

    rows: tuple[OwnValue, ...]
    with_shipped: Headline | None

    def as_dict(self) -> dict[str, Any]:
        """Return the own values as the JSON contract has them."""
        rows = [
            {
                "id": row.factor.id,
                "unit": row.factor.unit,
                "value": row.factor.value,
                "shipped_id": row.shipped.id if row.shipped else None,
                "shipped_value": row.shipped.value if row.shipped else None,
            }
            for row in self.rows
        ]
        return {"rows": rows, "with_shipped": self.with_shipped.as_dict() if self.with_shipped else None}
