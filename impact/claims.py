"""What results support saying in public, and what not, by the rules of the workshop's place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impact.claimrules import WORLD
from impact.supported import Supported, supported
from impact.unsupported import Unsupported, unsupported

if TYPE_CHECKING:
    from impact.results import Results


@dataclass(frozen=True, slots=True)
class Claims:
    """Sentences for and against.

    Attributes
    ----------
    supported : tuple of Supported
        Sentences that may be passed on whole.
    unsupported : tuple of Unsupported
        Wordings to keep away from.
    places : tuple of str
        Where the rules behind the second list hold: ``world``, then the workshop's place where we have its rules.
    """

    supported: tuple[Supported, ...]
    unsupported: tuple[Unsupported, ...]
    places: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return both lists as plain data for JSON."""
        return {
            "places": list(self.places),
            "supported": [claim.as_dict() for claim in self.supported],
            "unsupported": [claim.as_dict() for claim in self.unsupported],
        }


def claims(results: Results) -> Claims:
    """Return what the results support saying, and what not.

    The rules are those of the world and of the workshop's country and its groups of countries.
    """
    country = results.workshop.country
    not_said = unsupported(results, (country, *results.names.country_groups.get(country, ())))
    found = {rule.place for claim in not_said for rule in claim.rules}
    places = tuple(sorted(found, key=lambda place: (place != WORLD, place)))
    return Claims(tuple(supported(results)), tuple(not_said), places)
