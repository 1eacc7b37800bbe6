"""What ``workshop.toml`` says of binders as factor rows, beside and in place of the shipped ones.

A binder of the tables takes the rows that its table states. A binder of the workshop's own takes those of the binder that
it is like besides; without one, those of a binder of its kind for what decides little (carbon, decay, dose), and says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from impact.factors.factorset import FactorSet, by_key
from impact.factors.rows import MEMORY, PRACTICE, SETTINGS, Factor
from impact.records.workshop import Recipe, Workshop

MODELS = {
    "natural": "corn-starch", "modified natural": "methyl-cellulose", "synthetic": "pva-glue", "mineral": "corn-starch",
}  # fmt: skip
"""Binder of the tables whose rows stand in for a binder of which only the kind is known."""

BY_KIND = tuple(f"binder.{of}" for of in ("carbon", "fossil-share", "doc", "docf", "preparation", "dose"))
"""Keys of which they do so; what making it emits and its nitrogen are never supposed."""

NOT_OF_A_MINERAL = BY_KIND[:-1]
"""Of these a mineral has none."""

BY_LIKENESS = (
    *BY_KIND, "binder.solids", "binder.footprint", "binder.footprint-as-sold", "compost.nitrogen", "compost.carbon-nitrogen",
)  # fmt: skip
"""Keys of which the rows of a binder that it is like do so."""

SUPPOSED = PRACTICE
"""Evidence of a row that rests on the kind of the binder alone."""


def with_own_binders(factors: FactorSet, workshop: Workshop) -> FactorSet:
    """Return the factors with the rows that the settings of binders make."""
    shipped = {factor.id: factor for factor in factors}
    rows = {row.id: row for name, recipe in workshop.binders.items() for row in _rows(name, recipe, factors)}
    if not rows:
        return factors
    replaced = {name: shipped[name] for name in rows if name in shipped}
    return FactorSet(by_key({**shipped, **rows}.values()), factors.sources, {**factors.shipped, **replaced})


def _rows(name: str, recipe: Recipe, factors: FactorSet) -> Iterator[Factor]:
    """Yield the rows of one binder: those that stand in, then those that its table states, which win."""
    model = recipe.like or (MODELS[recipe.what] if recipe.what else name)
    known = {of: found[0] for of in BY_LIKENESS if (found := factors.by_key.get(f"{of}.{model}"))}
    if recipe.like:
        yield from (
            _of_model(row, of, name, recipe)
            for of, row in known.items()
            if of != "binder.footprint-as-sold" or recipe.footprint is None
        )
    elif recipe.what:
        yield from (_of_kind(known[of], of, name, recipe) for of in BY_KIND if of in known)
    yield from _stated(name, recipe, known)


def _of_model(row: Factor, of: str, name: str, recipe: Recipe) -> Factor:
    """Return a row of a binder of the tables as one of the binder that is like it."""
    label = recipe.label or name
    return replace(
        row, id=f"{of}.{name}", key=f"{of}.{name}", what=f"{row.what.partition(',')[0]}, {label}", file=SETTINGS,
        row=recipe.line, evidence=row.evidence if row.evidence in (MEMORY, PRACTICE) else "own value",
        notes=f"as {row.id}, which it is said to be like",
    )  # fmt: skip


def _of_kind(row: Factor, of: str, name: str, recipe: Recipe) -> Factor:
    """Return a row that stands in for a binder by its kind."""
    supposed = replace(
        _of_model(row, of, name, recipe), source="practice", locator=f"supposed by its kind: {recipe.what}",
        evidence=SUPPOSED, notes=f"as {row.id}, by its kind",
    )  # fmt: skip
    if recipe.what == "mineral" and of in NOT_OF_A_MINERAL:
        none = replace(supposed, derived="", notes="none in a mineral")
        return replace(none, value=0.0, low=0.0, high=0.0, published="0", distribution="fixed")
    return supposed


def _stated(name: str, recipe: Recipe, known: Mapping[str, Factor]) -> Iterator[Factor]:
    """Yield the rows that the settings state, and those that follow from them; `known` are those of the model."""
    carbon, low, high = recipe.carbon, recipe.footprint_low, recipe.footprint_high
    ends = None if low is None or high is None else (low, high)
    own = recipe.like or recipe.what  # of a binder of the tables the recipe itself holds these two
    stated: list[tuple[str, str, float | None, str]] = [
        ("binder.solids", "dry matter as used", recipe.solids if own else None, "1"),
        ("binder.preparation", "cooking one kg of binder", recipe.preparation_kwh_per_kg if own else None, "kWh/kg"),
        ("binder.footprint", "making one kg of dry solids", recipe.footprint, "kgCO2e/kg"),
        ("binder.carbon", "carbon of the dry solids", carbon, "kg/kg"),
    ]
    derived: dict[str, str] = {}
    if carbon is not None and {"binder.carbon", "binder.doc"} <= known.keys() and recipe.what != "mineral":
        share = min(known["binder.doc"].value / known["binder.carbon"].value, 1.0)
        stated.append(("binder.doc", "degradable organic carbon", carbon * share, "kg/kg"))
        derived["binder.doc"] = f"{carbon:g} x {share:.5g}, its share in {known['binder.doc'].id}"
    if carbon is None and "binder.carbon" in known and recipe.what != "mineral":
        carbon = known["binder.carbon"].value
    if recipe.nitrogen and carbon:
        stated.append(("compost.nitrogen", "nitrogen of the dry solids", recipe.nitrogen, "kg/kg"))
        stated.append(("compost.carbon-nitrogen", "carbon to nitrogen", carbon / recipe.nitrogen, "kg/kg"))
        derived["compost.carbon-nitrogen"] = f"{carbon:g} / {recipe.nitrogen:g}"
    for of, what, value, unit in stated:
        if value is None:
            continue
        spread = ends if of == "binder.footprint" else None
        yield Factor(
            id=f"{of}.{name}", key=f"{of}.{name}", what=f"{what}, {recipe.label or name}", value=value, unit=unit,
            low=spread[0] if spread else value, high=spread[1] if spread else value,
            distribution="lognormal" if spread else "fixed", published=f"{value:.10g}", published_unit=unit,
            boundary="cradle to gate, per kg dry" if of == "binder.footprint" else "", geography="world", year="",
            edition="", gwp="", source=recipe.source or SETTINGS, locator=f"[binders.{name}]", evidence="own value",
            derived=derived.get(of, ""), notes="", file=SETTINGS, row=recipe.line,
        )  # fmt: skip
