"""What a workshop's own factor values change: the headline figures once more with the shipped tables alone."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impact.factorrows import Factor
from impact.factors import OWN_FILE
from impact.problems import ProblemsError

if TYPE_CHECKING:
    from impact.api import Folder
    from impact.results import Interval, Results


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


def with_shipped(folder: Folder, **options: Any) -> Results | None:
    """Return the results of a folder with the shipped factors alone.

    Parameters
    ----------
    folder : Folder
        A workshop folder.
    **options
        As `Folder.assess` takes them.

    Returns
    -------
    Results or None
        None when the folder has no own row, or the shipped tables lack a factor that it brings.
    """
    if all(factor.file != OWN_FILE for factor in folder.factors):
        return None
    try:
        return dataclasses.replace(folder, factors=folder.shipped).assess(**options)
    except ProblemsError:
        return None


def own_values(folder: Folder, results: Results, **options: Any) -> OwnValues | None:
    """Return the own values behind the results of a folder, or None when they use none.

    Parameters
    ----------
    folder : Folder
        The folder.
    results : Results
        Its results.
    **options
        The options of `Folder.assess` that gave these results.
    """
    own = [choice.factor for choice in results.factors_used.values() if choice.factor.file == OWN_FILE]
    if not own:
        return None
    shipped = with_shipped(folder, **options)
    rows = tuple(OwnValue(factor, _shipped_row(factor, folder, shipped)) for factor in own)
    return OwnValues(rows, Headline.of(shipped) if shipped else None)


def _shipped_row(factor: Factor, folder: Folder, shipped: Results | None) -> Factor | None:
    """Return the shipped row of the same id, else the one that the shipped tables give for the same key."""
    same = folder.factors.shipped.get(factor.id)
    if same is not None or shipped is None:
        return same
    used = [choice.factor for choice in shipped.factors_used.values() if choice.factor.key == factor.key]
    return used[0] if len(used) == 1 else None
