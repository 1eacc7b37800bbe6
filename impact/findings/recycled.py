"""Recycled content of the parts after ISO 14021: recovered paper over the whole part, both dry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impact.account.linekinds import DRY_GOOD_PARTS, OWN_IN_PARTS, RECOVERED_IN_PARTS
from impact.base.serial import Share, named, shows
from impact.core.node import equation

if TYPE_CHECKING:
    from impact.account.results import Results
    from impact.records.workshop import Origin


@equation("X = A / P", "ISO 14021:2016 clause 7.8.4 (clause from memory)")
def recycled_share(recovered_dry_kg: float, product_dry_kg: float) -> float:
    """Return the recycled content of a product, X = A / P [1]_. [-]

    Parameters
    ----------
    recovered_dry_kg : float
        A: dry material recovered from the waste stream, own rejects not counted. [kg]
    product_dry_kg : float
        P: dry mass of the product, own rejects and binder solids counted. [kg]

    Raises
    ------
    ValueError
        When there is no product, A is negative, or A exceeds P.

    References
    ----------
    .. [1] ISO 14021:2016, clause 7.8.4, in per cent there (clause from memory).
    """
    if product_dry_kg <= 0.0:
        raise ValueError("there is no product to take a share of")
    if not 0.0 <= recovered_dry_kg <= product_dry_kg * (1.0 + 1e-9):
        raise ValueError(f"recovered material is {recovered_dry_kg!r} kg; accepted: 0 to {product_dry_kg!r} kg")
    return min(recovered_dry_kg / product_dry_kg, 1.0)


@shows("part", "share", "post_consumer", "pre_consumer", named("not_recorded", "unrecorded"), "own_rejects")
@dataclass(frozen=True, slots=True)
class RecycledContent:
    """Recycled content of the good parts of one name, as shares of their dry mass.

    Attributes
    ----------
    part : str
        Name.
    share : float
        Recovered paper. [-]
    post_consumer, pre_consumer, unrecorded : float
        Its three portions: discarded by an end user, waste of making or trade, not recorded. [-]
    own_rejects : float
        The workshop's own rejects pulped again, which count for nothing. [-]
    sure : bool
        True when every origin stated has its evidence.
    """

    part: str
    share: Share
    post_consumer: Share
    pre_consumer: Share
    unrecorded: Share
    own_rejects: Share
    sure: bool


def content_of(
    part: str,
    by_grade: Mapping[str, float],
    product_dry_kg: float,
    own_rejects_kg: float,
    origins: Mapping[str, Origin],
) -> RecycledContent:
    """Return the recycled content of one part.

    Parameters
    ----------
    part : str
        Name.
    by_grade : mapping of str to float
        Dry recovered fibre in the good parts by grade, own rejects not counted. [kg]
    product_dry_kg, own_rejects_kg : float
        Dry mass of the good parts, and of the own rejects in them. [kg]
    origins : mapping of str to Origin
        What is known of where each grade had been.
    """
    post = sum(mass * origins[grade].post_consumer for grade, mass in by_grade.items() if grade in origins)
    known = sum(mass for grade, mass in by_grade.items() if grade in origins)
    total = sum(by_grade.values())
    return RecycledContent(
        part=part,
        share=recycled_share(total, product_dry_kg),
        post_consumer=post / product_dry_kg,
        pre_consumer=(known - post) / product_dry_kg,
        unrecorded=(total - known) / product_dry_kg,
        own_rejects=own_rejects_kg / product_dry_kg,
        sure=all(origins[grade].evidence for grade, mass in by_grade.items() if grade in origins and mass > 0.0),
    )


def recycled(results: Results) -> tuple[RecycledContent, ...]:
    """Return the recycled content of every part that has a good one, over all its batches."""
    found = []
    for part in results.parts:
        inventory = results.inventory.where(part=part.part)
        dry = inventory.sum_of(*DRY_GOOD_PARTS)
        if dry > 0.0:
            fibre = inventory.items(*RECOVERED_IN_PARTS)
            own = inventory.sum_of(*OWN_IN_PARTS)
            found.append(content_of(part.part, fibre, dry, own, results.workshop.origins))
    return tuple(found)
