"""The calculation run on formulas: settings, factors and unit impacts as cells of the workbook.

`UnitImpacts` runs unchanged on numbers that remember their cells; each step that several lines share gets a row of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

from impact.account.assessment import regions_of
from impact.account.intensities import UnitImpacts
from impact.account.plastic import lives, masses_by_rule, plastic_part
from impact.core import FloatArray, Numbers, normalised
from impact.core.formula import ATOM, Formula, as_formula
from impact.core.plastic import per_service
from impact.factors.values import FATES, Values
from impact.records.workshop import Drying, FateSplit, Mould, Part, Recipe, Workshop
from impact.trace.intensities import named_step

if TYPE_CHECKING:
    from impact.factors.rows import Factor
    from impact.study import Study

T = TypeVar("T")

FIRST = 4
"""First row of data of every sheet: title, note and header stand above."""

PART_COLUMNS = {
    "mass_kg": "E", "volume_l": "F", "service_life_years": "G", "plastic_mass_kg": "K", "plastic_service_life_years": "L",
    "displacement": "N",
}  # fmt: skip
"""Columns of the sheet `parts` that hold the numbers of a part."""


class Ledger:
    """The rows of a sheet of numbers: name, number, unit, formula or value, further columns."""

    def __init__(self, sheet: str) -> None:
        self.sheet = sheet
        self.rows: list[list[Any]] = []
        self._cells: dict[str, Formula] = {}
        self._texts: dict[str, str] = {}

    def put(self, name: str, number: Any, unit: str, origin: str, *, case: str = "") -> Any:
        """Return the cell of a number under a name; the first number of a name stays, another one of a case stands beside it."""
        found = as_formula(number)
        if case and self._texts.get(name, found.text) != found.text:
            name = f"{name}, {case.replace('_', ' ')}"
        if name not in self._cells:
            live = isinstance(number, Formula)
            words = found.words if live else ""
            self.rows.append(
                [name, found if live else found.value, unit, "formula" if live else "value", origin, words]
            )
            cell = f"'{self.sheet}'!$B${FIRST - 1 + len(self.rows)}"
            self._cells[name], self._texts[name] = Formula(cell, f"[{name}]", found.value), found.text
        return self._cells[name]


class FormulaValues(Values):
    """Central values of a run's factors as cells of the sheet `factors`; shares of fates are put into `steps`."""

    def __init__(self, results: Study, steps: Ledger) -> None:
        self.steps = steps
        workshop = results.workshop
        editions = {**workshop.editions, "gwp": workshop.gwp}
        super().__init__(
            results.factors, regions_of(workshop, results.names), editions=editions, seed=results.settings.seed, draws=0
        )
        self.rows: dict[str, Factor] = {name: choice.factor for name, choice in results.factors_used.items()}
        self._places = {name: FIRST + place for place, name in enumerate(self.rows)}

    def get(self, key: str, regions: Sequence[str] | None = None) -> FloatArray:
        """Return the cell of the row chosen for `key`."""
        return cast(FloatArray, self.cell(key, regions))

    def cell(self, key: str, regions: Sequence[str] | None = None) -> Any:
        """Return the cell of the row chosen for `key`, as a formula."""
        factor = self.choose(key, regions).factor
        if factor.id not in self._places:
            self._places[factor.id] = FIRST + len(self.rows)
            self.rows[factor.id] = factor
        return Formula(f"factors!$C${self._places[factor.id]}", f"[{factor.id}]", factor.value)

    def spread(self, name: str, evidence: str) -> FloatArray:
        """Return the centre of the error of an amount: the row of its evidence class."""
        return self.get(f"evidence.{evidence}")

    def fate_shares(self, waste: str) -> list[Numbers]:
        """Return the shares of a waste over the routes, each a step of its own."""
        return self._kept(waste, super().fate_shares(waste))

    def stated_shares(
        self, name: str, shares: Sequence[float], evidence: str, of: Sequence[str] = FATES
    ) -> list[Numbers]:
        """Return shares that the workshop stated, each a step of its own."""
        return self._kept(name, normalised(shares))

    def _kept(self, name: str, shares: list[Numbers]) -> list[Numbers]:
        return [
            self.steps.put(f"fates of {name}: share {fate}", share, "share", "share / sum of the four shares")
            for fate, share in zip(FATES, shares, strict=True)
        ]


NUMBERS: dict[type, dict[str, tuple[str, str]]] = {
    Mould: {
        "mass_kg": ("mass", "kg"),
        "printing_kwh": ("printing", "kWh"),
        "pressings": ("expected life", "pressings"),
    },
    FateSplit: {fate: (f"share {fate}", "share") for fate in FATES},
    Recipe: {"solids": ("solids", "kg/kg"), "preparation_kwh_per_kg": ("preparation", "kWh/kg")},
    Drying: {"pressed_solids": ("pressed solids", "share")},
    Workshop: {"gas_collection": ("gas collection", "share"), "part_moisture": ("part moisture", "share")},
}
"""Numbers of settings that the figures rest on, each with its name on the sheet `settings` and its unit."""


def _put(owner: T, settings: Ledger, name: str = "", origin: str = "") -> T:
    """Return settings with their numbers as cells, in so far as they are stated."""
    cells = {
        field: settings.put(f"{name}{label}", number, unit, f"workshop.toml{origin}")
        for field, (label, unit) in NUMBERS[type(owner)].items()
        if (number := getattr(owner, field)) is not None
    }
    changed: T = replace(owner, **cells)  # type: ignore[type-var]
    return changed


def _split(split: FateSplit, name: str, settings: Ledger) -> FateSplit:
    return _put(split, settings, f"{name}: ", f", {split.evidence}" if split.evidence else "")


def _parts(parts: Mapping[str, Part]) -> dict[str, Part]:
    found = {}
    for row, (name, part) in enumerate(parts.items(), FIRST):
        cells: dict[str, Any] = {
            number: Formula(f"parts!${letter}${row}", f"[part {name}: {number}]", getattr(part, number))
            for number, letter in PART_COLUMNS.items()
            if getattr(part, number) is not None
        }
        found[name] = replace(part, **cells)
    return found


def traced_workshop(workshop: Workshop, settings: Ledger) -> Workshop:
    """Return the workshop with its numbers as cells of the sheets `settings` and `parts`."""
    stated, drying, whole = _put(workshop, settings), _put(workshop.drying, settings), workshop.end_of_life
    origin = "workshop.toml, else the default"
    return replace(
        stated,
        horizon_years=settings.put("landfill horizon", workshop.horizon_years, "year", origin),
        drying=drying,
        fates={grade: _split(split, f"fates of {grade}", settings) for grade, split in workshop.fates.items()},
        end_of_life=None if whole is None else _split(whole, "end of life of parts", settings),
        moulds={
            name: _put(mould, settings, f"mould {name}: ", f", moulds.{name}")
            for name, mould in workshop.moulds.items()
        },
        binders={
            name: _put(recipe, settings, f"binder {name}: ", f", binders.{name}")
            for name, recipe in workshop.binders.items()
        },
        parts=_parts(workshop.parts),
    )


class FormulaImpacts(UnitImpacts):
    """Unit impacts of a run as formulas; shared steps are rows of the sheet `unit impacts`."""

    def __init__(self, results: Study) -> None:
        self.settings = Ledger("settings")
        self.steps = Ledger("unit impacts")
        workshop = traced_workshop(results.workshop, self.settings)
        origin = "good parts and rejects of all batches of the folder, blank rejects by the usual rate"
        made = {
            name: self.settings.put(f"mould {name}: pressings made", pressings, "pressings", origin)
            for name, pressings in results.counted.pressings.items()
            if workshop.moulds[name].retired
        }
        self.cells = FormulaValues(results, self.steps)
        super().__init__(workshop, self.cells, made)

    def _cell(self, name: str, number: Any, unit: str, how: str) -> Any:
        """Return the cell of a step; a constant and a mere reference need none."""
        if not isinstance(number, Formula) or (number.rank == ATOM and "(" not in number.text):
            return number
        return self.steps.put(name, number, unit, how, case=self.case)

    def step(self, name: str, of: tuple[Hashable, ...], work_out: Callable[[], Any]) -> Any:
        """Return a step as a cell, under the name that `impact.trace.intensities.named_step` gives it."""
        found, row = super().step(name, of, work_out), named_step(self, name, of)
        return self._cell(row["name"], found, row["cell_unit"], row["how"]) if row.get("name") else found

    @property
    def kwh(self) -> FloatArray:
        """Emission per kWh. [kgCO2e/kWh]"""
        found = self._cell("electricity at the socket", as_formula(super().kwh), "kg CO2e/kWh", str(self.grid.basis))
        return cast(FloatArray, found)

    @property
    def generated_kwh(self) -> FloatArray:
        """Emission per kWh where it is generated. [kgCO2e/kWh]"""
        found, how = as_formula(super().generated_kwh), "generation with its fuel supply, no network losses"
        return cast(FloatArray, self._cell("electricity where it is generated", found, "kg CO2e/kWh", how))

    def plastic(self, part: Part) -> Any:
        """Return the plastic part over the service life of one moulded part, by steps. [kgCO2e]"""
        name, rule = f"plastic part of {part.name}", part.equivalence
        mass = self._cell(f"{name}: mass", masses_by_rule(part, self)[rule], "kg", f"by the rule {rule}")
        one = plastic_part(part, self, {rule: mass})
        steps = (
            ("material and forming", one.material, f"by the route {one.route}"),
            ("freight", one.freight, "mass × distance × truck"),
            ("end of life", one.end_of_life, "mass × end of life of the polymer"),
        )
        cells = [self._cell(f"{name}: {step}", number, "kg CO2e", how) for step, number, how in steps]
        charged = per_service(cells[0] + cells[1] + cells[2], **lives(part, self.values))
        how = "(material + freight + end of life) × life of the moulded part / life of the plastic part"
        return self._cell(f"{name}: footprint over the moulded part's life", charged, "kg CO2e", how)

    def plastic_credit(self, part: Part) -> Any:
        """Return the credit of electricity sold in the plastic part over the service life of one moulded part. [kgCO2e]"""
        mass = masses_by_rule(part, self)[part.equivalence]
        return per_service(mass * self.plastic_sold, **lives(part, self.values))
