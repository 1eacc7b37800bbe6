"""What one batch comes to, step by step: the same steps on arrays of batches and on the cells of a row of a workbook.

Moisture is on the wet basis (ISO 287), so dry matter is D = M (1 - w); the rest is conservation of mass. Parts and losses
are made of the whole dry pulp: share of a grade D_g / (D + B + R), of the binder B / (D + B + R), of own rejects
R / (D + B + R). What those are made of the fresh pulp of other batches tells.

Every step is linear in what one batch holds, and has no branch: flags, 0 or 1, are multiplied in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias, cast

import numpy as np

from impact.account.inventory import OWN_REJECTS
from impact.core import Numbers
from impact.core.moisture import as_weighed, dry_mass
from impact.records.batchtable import BatchTable
from impact.tables.texts import Coded, Flags
from impact.tables.vectors import filled, recorded

if TYPE_CHECKING:
    from impact.records.workshop import Workshop

NO_BINDER = ("none", "")


class Loss(NamedTuple):
    """A loss: the column of its amount, and the column of where it went."""

    column: str
    route: str


LOSSES = {"rejects": Loss("rejects", "rejects_to"), "trim": Loss("trim_kg", "trim_to")}

Central = Callable[[str], Any]
"""Central value of a factor key, as the kind of number that the records are read as."""

Flag: TypeAlias = Any
"""1 where something holds and else 0: of arrays their booleans, of cells a formula."""

Otherwise = Numbers | Callable[[], Numbers]
"""What stands in for a blank; a callable is asked only where some batch has one."""


class Records:
    """Batches as arrays, one element for each; flags are booleans. `impact.trace` has them as the cells of a row.

    `moulds` has the mould of each part.
    """

    def __init__(self, batches: BatchTable, moulds: Mapping[str, str]) -> None:
        self.batches = batches
        self.moulds = moulds
        self._blank: dict[str, Flags] = {}

    @property
    def nothing(self) -> Numbers:
        """0 for every batch."""
        return np.zeros(len(self.batches))

    @property
    def grades(self) -> list[str]:
        """Grades of which some batch has paper."""
        return [grade for grade, mass in self.batches.papers.items() if mass.any()]

    def texts(self, column: str) -> Coded:
        """Return a column of texts; ``mould`` is that of the part."""
        if column == "mould":
            return self.batches.coded("part").renamed(lambda part: self.moulds.get(part, ""))
        return self.batches.coded(column)

    def number(self, column: str) -> Numbers:
        """Return an amount as recorded, 0 where it is blank."""
        return recorded(self.batches.floats(column))

    def filled(self, column: str, otherwise: Otherwise) -> Numbers:
        """Return an amount as recorded, something else where it is blank."""
        amounts = self.batches.floats(column)
        if not self.blank(column).any():
            return amounts
        return filled(amounts, otherwise() if callable(otherwise) else otherwise)

    def blank(self, column: str) -> Flag:
        """Return the flag that an amount is blank."""
        if column not in self._blank:
            self._blank[column] = np.isnan(self.batches.floats(column))
        return self._blank[column]

    def present(self, column: str, *, blank: str | None = None) -> list[str]:
        """Return the texts of a column, sorted, or those of batches whose amount `blank` is not recorded."""
        return self.texts(column).present(None if blank is None else self.blank(blank))

    def is_any(self, column: str, texts: Sequence[str]) -> Flag:
        """Return the flag that a column has one of some texts."""
        return self.texts(column).where_any(texts)

    def by_text(self, column: str, numbers: Mapping[str, Numbers]) -> Numbers:
        """Return the number of the text of a column, 0 for a text without one."""
        texts = self.texts(column)
        return texts.spread(dict.fromkeys(texts.names, 0.0) | cast("dict[str, float]", numbers))

    def zero(self, number: Numbers) -> Flag:
        """Return the flag that a number is 0."""
        return np.asarray(number == 0.0)

    def step(self, header: str, number: Numbers) -> Numbers:
        """Return a step that several lines share; `header` is what it holds, with its unit in brackets."""
        return number


class Batch:
    """The steps of a batch, each worked out when it is first asked for.

    What a batch leaves blank is filled by the `central` value of a factor key.
    """

    def __init__(self, records: Records, workshop: Workshop, central: Central) -> None:
        self.records = records
        self.workshop = workshop
        self.central = central
        self._share: tuple[str, Numbers] = ("", 0.0)

    def recorded(self, column: str) -> Numbers:
        """Return an amount as recorded, 0 where it is blank."""
        return self.records.number(column)

    def without(self, column: str, number: Numbers) -> Numbers:
        """Return a number where an amount is blank, else 0."""
        found: Numbers = number * self.records.blank(column)
        return found

    def where(self, column: str, number: Numbers) -> Numbers:
        """Return a number where an amount is recorded, else 0."""
        found: Numbers = number * (1.0 - self.records.blank(column))
        return found

    @cached_property
    def part_moisture(self) -> Numbers:
        """Water in a finished part: the workshop's, else of the tables. [-]"""
        stated = self.workshop.part_moisture
        found: Numbers = self.central("part.moisture") if stated is None else stated
        return found

    # -- what went in ----------------------------------------------------------------------------------

    def paper(self, grade: str) -> Numbers:
        """Return the paper of a grade as weighed. [kg]"""
        return self.records.number(f"paper.{grade}_kg")

    @cached_property
    def _papers(self) -> tuple[dict[str, Numbers], Numbers, Numbers, Numbers]:
        """Dry fibre by grade, and over all grades the paper as weighed, its water, its dry fibre. [kg]"""
        step, dry = self.records.step, {}
        weighed = water = fibre = self.records.nothing
        for grade in self.records.grades:
            mass = self.paper(grade)
            wet = self.records.filled("moisture", self.central(f"paper.moisture.{grade}"))
            dry[grade] = step(f"dry {grade} [kg]", dry_mass(mass, wet))
            weighed, water, fibre = weighed + mass, water + mass * wet, fibre + dry[grade]
        return (
            dry,
            step("paper as weighed [kg]", weighed),
            step("water in the paper [kg]", water),
            step("dry fibre [kg]", fibre),
        )

    def dry(self, grade: str) -> Numbers:
        """Return the dry fibre of a grade. [kg]"""
        return self._papers[0][grade]

    @property
    def weighed(self) -> Numbers:
        """Paper of all grades as weighed. [kg]"""
        return self._papers[1]

    @property
    def dry_fibre(self) -> Numbers:
        """Dry fibre of all grades. [kg]"""
        return self._papers[3]

    @cached_property
    def mean_moisture(self) -> Numbers:
        """Water in the paper; in a finished part where there is no paper. [-]"""
        nothing = self.records.zero(self.weighed)
        found = (self._papers[2] + self.part_moisture * nothing) / (self.weighed + nothing)
        return self.records.step("mean moisture of the paper [share]", found)

    @cached_property
    def own_rejects(self) -> Numbers:
        """Own rejects pulped again, dry. [kg]"""
        return self.records.step("own rejects, dry [kg]", dry_mass(self.recorded("own_rejects_kg"), self.part_moisture))

    @cached_property
    def pulped(self) -> Numbers:
        """Fresh fibre and own rejects, dry. [kg]"""
        return self.records.step("pulped, dry [kg]", self.dry_fibre + self.own_rejects)

    # -- binder ----------------------------------------------------------------------------------------

    @cached_property
    def binders(self) -> list[str]:
        """The binders that some batch has."""
        return [name for name in self.records.present("binder") if name not in NO_BINDER]

    @cached_property
    def glued(self) -> Flag:
        """Flag of a batch that has a binder."""
        return self.records.is_any("binder", self.binders)

    @cached_property
    def _stated_solids(self) -> dict[str, float]:
        recipes = {name: self.workshop.binders[name] for name in self.binders if name in self.workshop.binders}
        return {name: recipe.solids for name, recipe in recipes.items() if recipe.solids is not None}

    @cached_property
    def solids(self) -> Numbers:
        """Dry matter per kg of binder as used: recorded, of the recipe, or of the tables; 1 without a binder. [-]"""
        stated = self._stated_solids
        usual = {
            name: stated[name] if name in stated else self.central(f"binder.solids.{name}") for name in self.binders
        }
        share = self.records.filled("binder_solids", self.records.by_text("binder", usual))
        return self.records.step("binder solids [kg/kg]", share * self.glued + (1.0 - self.glued))

    @cached_property
    def solids_by_table(self) -> Flag:
        """Flag of a batch the solids of whose binder come from the tables."""
        unstated = [name for name in self.binders if name not in self._stated_solids]
        return self.records.is_any("binder", unstated) * self.records.blank("binder_solids")

    @cached_property
    def solids_known(self) -> Flag:
        """Flag of a batch the solids of whose binder were recorded, or stated in its recipe."""
        unstated = [name for name in self.binders if name not in self._stated_solids]
        recorded = self.where("binder_solids", self.records.is_any("binder", unstated))
        return self.records.is_any("binder", list(self._stated_solids)) + recorded

    @cached_property
    def dry_binder(self) -> Numbers:
        """Dry binder: its mass times its solids, or by its dose where its mass is blank. [kg]"""
        weighed = self.recorded("binder_kg") * self.solids * self.glued
        guessed = [name for name in self.records.present("binder", blank="binder_kg") if name not in NO_BINDER]
        doses = self.records.by_text("binder", {name: self.central(f"binder.dose.{name}") for name in guessed})
        return self.records.step("dry binder [kg]", weighed + self.without("binder_kg", doses * self.dry_fibre))

    @cached_property
    def binder_used(self) -> Numbers:
        """Binder as used, its water included. [kg]"""
        return self.records.step("binder as used [kg]", self.dry_binder / self.solids)

    # -- what came out -----------------------------------------------------------------------------------

    @cached_property
    def good(self) -> Numbers:
        """Good parts. [-]"""
        return self.recorded("good_parts")

    @cached_property
    def part_mass(self) -> Numbers:
        """Mass of a finished part: of the batch, else of the part. [kg]"""
        listed = self.records.by_text("part", {name: part.mass_kg for name, part in self.workshop.parts.items()})
        return self.records.step("mass of a part [kg]", self.records.filled("part_mass_kg", listed))

    @cached_property
    def rejects(self) -> Numbers:
        """Failed parts, by the usual rate where they are blank: a rate is rejects over all that was pressed. [-]"""

        def by_rate() -> Numbers:
            rate: Numbers = self.central("estimate.reject-rate")
            return self.good * rate / (1.0 - rate)

        return self.records.step("rejects [1]", self.records.filled("rejects", by_rate))

    @cached_property
    def _dry_part(self) -> Numbers:
        return 1.0 - self.part_moisture

    @cached_property
    def good_dry(self) -> Numbers:
        """Good parts, dry. [kg]"""
        return self.records.step("good parts, dry [kg]", self.good * self.part_mass * self._dry_part)

    @cached_property
    def _rejects_dry(self) -> Numbers:
        return self.records.step("rejects, dry [kg]", self.rejects * self.part_mass * self._dry_part)

    @cached_property
    def _trim_dry(self) -> Numbers:
        trim = self.records.filled("trim_kg", lambda: self.good * self.part_mass * self.central("estimate.trim"))
        return self.records.step("trim, dry [kg]", trim * self._dry_part)

    def lost(self, loss: str) -> Numbers:
        """Return a loss, dry. [kg]"""
        return self._rejects_dry if loss == "rejects" else self._trim_dry

    @cached_property
    def dry_in(self) -> Numbers:
        """Dry matter that went in. [kg]"""
        return self.records.step("dry matter in [kg]", self.dry_fibre + self.dry_binder + self.own_rejects)

    @cached_property
    def dry_out(self) -> Numbers:
        """Dry matter that came out. [kg]"""
        return self.records.step("dry matter out [kg]", self.good_dry + self.lost("rejects") + self.lost("trim"))

    @cached_property
    def dried(self) -> Numbers:
        """Dry matter that was dried: what came out, else what went in. [kg]"""
        found = self.dry_out + self.dry_in * self.records.zero(self.dry_out)
        return self.records.step("dried, dry [kg]", found)

    # -- what parts and losses are made of ---------------------------------------------------------------

    @cached_property
    def fresh_binder(self) -> Numbers:
        """Dry binder of a batch that has fresh paper. [kg]"""
        found: Numbers = self.dry_binder * (1.0 - self.records.zero(self.dry_fibre))
        return found

    @cached_property
    def _nothing_in(self) -> Flag:
        return self.records.zero(self.dry_in)

    def _per_pulp(self, part: Numbers) -> Numbers:
        """Return a part of the dry pulp over all of it, 0 where both are 0."""
        share: Numbers = part / (self.dry_in + self._nothing_in)
        return share

    def fibre_share(self, item: str) -> Numbers:
        """Return the share of a grade, or of own rejects, in the dry pulp; all of it where nothing was recorded. [-]"""
        if self._share[0] != item:  # the last one alone is kept: a share of each grade would fill the memory
            part = self.own_rejects + self._nothing_in if item == OWN_REJECTS else self.dry(item)
            self._share = (item, self._per_pulp(part))
        return self._share[1]

    @cached_property
    def binder_share(self) -> Numbers:
        """Share of the binder in the dry pulp. [-]"""
        return self._per_pulp(self.dry_binder)

    def as_weighed(self, dry: Numbers) -> Numbers:
        """Return what dry fibre weighs with the moisture of the paper that it came from. [kg]"""
        return as_weighed(dry, self.mean_moisture)
