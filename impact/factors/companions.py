"""Rows that call for others: the calculation that takes the one asks for the other, and ends without it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from impact.base.catalogue import read_names
from impact.base.problems import Problem
from impact.factors.factorset import FactorSet
from impact.factors.rows import Factor
from impact.factors.values import FATES

COMPANIONS: Mapping[str, str] = {
    "electricity.direct": "electricity.upstream",
    "electricity.transmission": "electricity.upstream-transmission",
    "polymer.carbon.": "polymer.fossil-share.",
    "binder.footprint-as-sold.": "binder.solids.",
}
"""What a row calls for: whole keys, or starts of keys that name the same thing."""

OF_THE_COUNTRY = ("electricity.upstream",)
"""Of these the row of the country will do for a part of it."""

OF_THE_PLACE = ("electricity.upstream-transmission",)
"""Of these only a row of the very place will do."""


def lonely_rows(own: Iterable[Factor], factors: FactorSet) -> Iterator[Problem]:
    """Yield a problem for each own row that calls for another which no table has in its reach."""
    own = list(own)
    if not any(_called(factor.key) for factor in own):
        return
    names = read_names()
    for factor in own:
        place = factor.geography
        country = names.region_countries.get(place, place)
        near = (place, country, *names.country_groups.get(country, ()))
        for key in _called(factor.key):
            if key.startswith("fate."):
                reach: tuple[str, ...] = (place, "world")
                if not factors.has(f"fate.{key.split('.')[1]}.recycling", (place,)):
                    continue  # shares of a place are taken where its recycling is known
            elif key in OF_THE_COUNTRY:
                reach = (place, country)
            else:
                reach = (place,) if key in OF_THE_PLACE else (*near, "world")
            if key in OF_THE_PLACE and not factors.has("electricity.direct", (place,)):
                continue  # without a direct factor nothing is added to it
            if not factors.has(key, reach):
                yield Problem(
                    "lonely-row", factor.file, f"calls for a row {key}, and no table has one for {place}", row=factor.row,
                    column="id", read=factor.id, accepted=f"a row {key}/{place} beside it",
                )  # fmt: skip


def _called(key: str) -> tuple[str, ...]:
    """Return the keys that a row of this key calls for."""
    if key.startswith("fate."):
        waste, _, fate = key.removeprefix("fate.").rpartition(".")
        wanted = {"recycling": ("composting",), "landfill": FATES[1:]}.get(fate, ())
        return tuple(f"fate.{waste}.{other}" for other in wanted)
    for start, other in COMPANIONS.items():
        if key == start or (start.endswith(".") and key.startswith(start)):
            return (key.replace(start, other, 1),)
    return ()
