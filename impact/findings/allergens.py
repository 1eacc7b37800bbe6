"""What binders hold that people are allergic to."""

from __future__ import annotations

from impact.base.catalogue import Names, tag
from impact.base.language import message
from impact.base.sentences import Fact, Name, Said

ALLERGEN = "allergen"
"""Flag of a binder that holds something people are allergic to, with what it is."""

OF_TABLES = (
    message("wheat (gluten)"),
    message("barley (gluten)"),
    message("fish (where it is made of fish)"),
)
"""What the tables name as allergens of binders; a workshop's own words for its own binder stay as they are."""


def allergens(binder: str, names: Names) -> Said | None:
    """Return what a binder holds that people are allergic to, and its name; None where nothing is known."""
    held = tag(names.binder_tags.get(binder, ""), ALLERGEN)
    if not held:
        return None
    facts: dict[str, Fact] = {"binder": Name("binder", binder), "allergen": Said(held) if held in OF_TABLES else held}
    return Said("{allergen} in {binder}", facts)
