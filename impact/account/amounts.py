"""From batches to the inventory: vectors over the batches, added up by group and line.

Every amount is linear in the batches, so groups are sums, and adding batches adds rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.account.balance import Balance, BatchAmounts, dried
from impact.account.inventory import BY_PART, OWN_REJECTS, SPLIT, UNRECORDED, Inventory, Line, grouped
from impact.core import FloatArray
from impact.core.moisture import as_weighed, dry_mass, unaccounted_share
from impact.records.batchtable import BatchTable
from impact.tables.texts import Coded, Codes
from impact.tables.vectors import filled, only, per, recorded

if TYPE_CHECKING:
    from impact.records.workshop import Workshop


class Adder:
    """Adds vectors over batches into the group rows of each line."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        self.codes = codes
        self.groups = groups
        self.columns: dict[Line, FloatArray] = {}
        self._keys: dict[tuple[int, int], tuple[np.ndarray, np.ndarray]] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        """Add a vector to one line, of all batches or of some."""
        if where is not None:
            vector = only(vector, where)
        self._put(line, self._summed(self.codes, vector, self.groups))

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Add a vector to several lines at once: what each batch adds goes to the line of its code, None to none."""
        key = (id(codes), len(lines))
        _, keys = self._keys.get(key, (codes, None))
        if keys is None:
            keys = codes * self.groups + self.codes
            self._keys[key] = codes, keys  # the codes are kept with their keys, so that no other takes their id
        sums = self._summed(keys, vector, self.groups * len(lines))
        for line, column in zip(lines, sums.reshape(len(lines), self.groups), strict=True):
            if line is not None:
                self._put(line, column)

    @staticmethod
    def _summed(codes: Codes, vector: FloatArray, size: int) -> FloatArray:
        return np.asarray(np.bincount(codes, weights=vector, minlength=size), dtype=np.float64)

    def _put(self, line: Line, column: FloatArray) -> None:
        if column.any():
            self.columns[line] = self.columns[line] + column if line in self.columns else column


class Marker(Adder):
    """Marks the batches that bring something to each line, in place of adding up what they bring."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        super().__init__(codes, groups)
        self.marks: dict[Line, np.ndarray] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        """Mark the batches, all or some, that bring something to one line."""
        some = vector != 0.0 if where is None else where & (vector != 0.0)
        if some.any():
            self.marks[line] = some | self.marks.get(line, False)

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Mark the batches that bring something to several lines, each to the line of its code."""
        for place, line in enumerate(lines):
            if line is not None:
                self.add(line, vector, codes == place)


Central = Callable[[str], float]
"""Central value of a factor key."""


class _Stock:
    """Works out the vectors of one table of batches and adds them up."""

    def __init__(
        self,
        batches: BatchTable,
        workshop: Workshop,
        central: Central,
        *,
        by: Sequence[str] = BY_PART,
        adder: type[Adder] = Adder,
    ) -> None:
        self.batches = batches
        self.workshop = workshop
        self.central = central
        self.size = len(batches)
        self.groups, codes = grouped({column: batches.coded(column) for column in by})
        self.adder = adder(codes, len(self.groups["part"]))
        self.part_moisture = workshop.part_moisture if workshop.part_moisture is not None else central("part.moisture")
        self.binder = batches.coded("binder")
        self.glues = [name for name in self.binder.present() if name not in ("none", "")]
        self.routes = {loss: batches.coded(f"{loss}_to") for loss in ("rejects", "trim")}
        self.dry: dict[str, FloatArray] = {}
        self._paper()
        self._binder_dry()
        self._parts()

    def put(
        self,
        account: str,
        activity: str,
        item: str,
        evidence: str,
        unit: str,
        vector: FloatArray,
        where: np.ndarray | None = None,
    ) -> None:
        self.adder.add(Line(account, activity, item, evidence, unit), vector, where)

    # -- what went in ---------------------------------------------------------------------------

    def _paper(self) -> None:
        moisture = self.batches.floats("moisture")
        blank = np.isnan(moisture)
        fates = self.batches.coded("fate")
        ways = fates.codes * 2 + blank
        weighed, water, dry_fibre = (np.zeros(self.size) for _ in range(3))
        for grade, mass in self.batches.papers.items():
            if not mass.any():
                continue
            wet = filled(moisture, self.central(f"paper.moisture.{grade}"))
            dry = np.asarray(dry_mass(mass, wet))
            self.dry[grade] = dry
            weighed, water, dry_fibre = weighed + mass, water + mass * wet, dry_fibre + dry
            items = [f"{grade}|{fate or SPLIT}" for fate in fates.names]
            self.adder.split([Line("mass", "collected", item, "weighed", "kg") for item in items], fates.codes, mass)
            lines = [
                Line("diverted", activity, item, "weighed", "kg")
                for item in items
                for activity in ("dry paper", "paper as weighed")
            ]
            self.adder.split(lines, ways, only(dry, ~blank) + only(mass, blank))
        self.weighed = weighed
        nothing = weighed == 0.0
        self.mean_moisture = (water + only(self.part_moisture, nothing)) / (weighed + nothing)
        self.dry_fibre = dry_fibre
        self.own_rejects_dry = np.asarray(dry_mass(self.batches.floats("own_rejects_kg"), self.part_moisture))
        self.put("mass", "dry fibre", "", "weighed", "kg", self.dry_fibre)

    def _binder_dry(self) -> None:
        mass, solids = self.batches.floats("binder_kg"), self.batches.floats("binder_solids")
        recipes = {name: self.workshop.binders[name] for name in self.glues if name in self.workshop.binders}
        stated = {name: recipe.solids for name, recipe in recipes.items() if recipe.solids is not None}
        default = {
            name: stated[name] if name in stated else self.central(f"binder.solids.{name}") for name in self.glues
        }
        used = self.binder.where_any(self.glues)
        blank = np.isnan(mass)
        guessed, weighed = used & blank, used & ~blank
        unused = dict.fromkeys(set(self.binder.names) - set(self.glues), 1.0)
        share = filled(solids, self.binder.spread(default | unused))
        sure = weighed & (self.binder.where_any(stated) | ~np.isnan(solids))
        dose = {name: self.central(f"binder.dose.{name}") for name in self.binder.present(guessed)}
        doses = self.binder.spread(dict.fromkeys(self.binder.names, 0.0) | dose)
        known = recorded(mass)
        self.binder_dry = only(known * share, weighed) + only(doses * self.dry_fibre, guessed)
        self.binder_solids = only(share, used) + ~used
        self.binder_used = only(self.binder_dry / self.binder_solids, used)
        for activity, evidence, vector in (
            ("dry binder", "weighed", only(self.binder_dry, sure)),
            ("binder as used", "weighed", only(known, weighed & ~sure)),
            ("estimated binder", "estimated", only(self.dry_fibre, guessed)),
        ):
            lines = [Line("binder", activity, name, evidence, "kg") for name in self.binder.names]
            self.adder.split(lines, self.binder.codes, vector)
        self._energy("binder", "binder_preparation", self.binder_used, items=self.binder, where=used)

    # -- what came out ---------------------------------------------------------------------------

    def _parts(self) -> None:
        batches, workshop = self.batches, self.workshop
        names = batches.coded("part")
        listed = names.spread({name: part.mass_kg for name, part in workshop.parts.items()})
        mass = filled(batches.floats("part_mass_kg"), listed)
        self.good = batches.floats("good_parts")
        rejects, trim = batches.floats("rejects"), batches.floats("trim_kg")
        rejects_known, trim_known = ~np.isnan(rejects), ~np.isnan(trim)
        if not rejects_known.all():
            rate = self.central("estimate.reject-rate")
            rejects = filled(rejects, self.good * rate / (1.0 - rate))
        if not trim_known.all():
            trim = filled(trim, self.good * mass * self.central("estimate.trim"))
        self.rejects = rejects
        keep = 1.0 - self.part_moisture
        self.good_dry = self.good * mass * keep
        self.losses = {
            "rejects": (rejects * mass * keep, rejects_known),
            "trim": (trim * keep, trim_known),
        }
        self.names = names
        self.out_dry = self.good_dry + self.losses["rejects"][0] + self.losses["trim"][0]
        self.in_dry = self.dry_fibre + self.binder_dry + self.own_rejects_dry

    def batch_amounts(self) -> BatchAmounts:
        """Return what the records of each batch come to."""
        return BatchAmounts(self.dry_fibre, self.binder_dry, self.binder_solids, self.rejects)

    def outputs(self) -> None:
        """Add what happens to parts and losses, by composition: shares of the dry output by grade and binder."""
        fresh = self.dry_fibre + self.binder_dry
        known = fresh > 0.0

        self._own = per(self.own_rejects_dry, self.in_dry)
        self.put("mass", "own rejects in parts", "", "weighed", "kg", self.good_dry * self._own)
        self._fates = {loss: self._fates_of(loss) for loss in self.losses}
        for grade, dry in self.dry.items():
            self._fibre(grade, per(dry, fresh))
        if self.glues:
            self._glue(per(self.binder_dry, fresh))
        if not known.all():
            self._fibre(OWN_REJECTS, (~known).astype(float))

    def _fibre(self, item: str, share: FloatArray) -> None:
        """Add the fibre of a grade, or of pulp from own rejects alone, in parts and losses."""
        in_parts = self.good_dry * share
        self.put("end_of_life", "fibre in parts", item, "weighed", "kg", in_parts)
        self.put("mass", "put to use", item, "weighed", "kg", np.asarray(as_weighed(in_parts, self.mean_moisture)))
        self.put("mass", "recovered fibre in parts", item, "weighed", "kg", in_parts * (1.0 - self._own))
        again = np.asarray(as_weighed(self.own_rejects_dry * share, self.mean_moisture))
        self.put("mass", "pulped again", item, "weighed", "kg", again)
        for loss, (dry, _) in self.losses.items():
            self._lose(loss, [("fibre", item)], self._fates[loss][1], dry * share)
            route = self.routes[loss]
            lines = [Line("mass", "returned", f"{item}|{fate or 'landfill'}", "weighed", "kg") for fate in route.names]
            self.adder.split(lines, route.codes, np.asarray(as_weighed(dry * share, self.mean_moisture)))

    def _glue(self, share: FloatArray) -> None:
        """Add the dry binder in parts and losses."""
        names, codes = self.binder.names, self.binder.codes
        lines = [Line("end_of_life", "binder in parts", name, "weighed", "kg") for name in names]
        self.adder.split(lines, codes, self.good_dry * share)
        for loss, (dry, _) in self.losses.items():
            words, places = self._fates[loss]
            self._lose(loss, [("binder", name) for name in names], codes * len(words) + places, dry * share)

    def _fates_of(self, loss: str) -> tuple[list[tuple[str, str]], np.ndarray]:
        """Return fate and evidence class of each way that a loss can go, and the way of each batch."""
        route, (_, known) = self.routes[loss], self.losses[loss]
        ways = [
            (fate or "landfill", "estimated" if not is_known else "weighed" if fate else "assumed")
            for fate in route.names
            for is_known in (False, True)
        ]
        return ways, route.codes * 2 + known

    def _lose(self, loss: str, made_of: Sequence[tuple[str, str]], codes: np.ndarray, dry: FloatArray) -> None:
        lines = [
            Line("end_of_life", f"{kind} in losses", f"{item}|{fate}", evidence, "kg")
            for kind, item in made_of
            for fate, evidence in self._fates[loss][0]
        ]
        self.adder.split(lines, codes, dry)

    # -- making ---------------------------------------------------------------------------------------

    def _energy(
        self,
        stage: str,
        activity: str,
        driver: FloatArray,
        *,
        item: str = "",
        items: Coded | None = None,
        where: np.ndarray | None = None,
    ) -> None:
        """Add recorded kWh by evidence class, and the driver of the estimate where nothing was recorded."""
        kwh = self.batches.floats(f"{activity}_kwh")
        evidence = self.batches.coded(f"{activity}_kwh_evidence")
        name = activity.replace("_", " ")
        blank = np.isnan(kwh)
        amounts = recorded(kwh) if where is None else only(recorded(kwh), where)
        words: list[Line | None] = [
            Line(stage, name, "electricity", word, "kWh") if word in ("metered", "nameplate") else None
            for word in evidence.names
        ]
        self.adder.split(words, evidence.codes, amounts)
        missing = only(driver, blank if where is None else blank & where)
        if items is None:
            self.put(stage, f"estimated {name}", item, "estimated", "kg", missing)
        else:
            lines = [Line(stage, f"estimated {name}", one, "estimated", "kg") for one in items.names]
            self.adder.split(lines, items.codes, missing)

    def making(self) -> None:
        """Add shredding, pulping, pressing, drying, water, mould pressings and driving."""
        pulped = self.dry_fibre + self.own_rejects_dry
        self._energy("paper", "shredding", self.dry_fibre)
        self._energy("making", "blending", pulped)
        self._energy("making", "pressing", pulped)
        through = dried(self.in_dry, self.out_dry)
        drying = self.workshop.drying
        self._energy("making", "drying", through, item=drying.dryer or UNRECORDED)
        if drying.heated_room:
            self.put("making", "heat from the room", drying.heating, "estimated", "kg", through)
        water = self.batches.floats("water_l")
        self.put("making", "water", "", "weighed", "m3", recorded(water) / 1000.0)
        self.put("making", "estimated water", "", "estimated", "kg", pulped, np.isnan(water))
        lines = [self._pressings(part) for part in self.names.names]
        self.adder.split(lines, self.names.codes, self.good + self.rejects)
        driven = self.batches.floats("transport_km")
        vehicle = self.workshop.vehicle
        self.put("transport", "driving", vehicle, "metered", "km", recorded(driven))
        self.put("transport", "estimated driving", vehicle, "estimated", "kg", self.weighed, np.isnan(driven))

    def _pressings(self, part: str) -> Line | None:
        if part not in self.workshop.parts:
            return None
        mould = self.workshop.parts[part].mould
        word = "metered" if self.workshop.moulds[mould].retired else "assumed"
        return Line("mould", "pressings", mould, word, "1")

    def fill(self) -> None:
        """Add every line."""
        self.outputs()
        self.making()
        self.counts()

    def inventory(self) -> Inventory:
        """Return all of it by group and line."""
        self.fill()
        lines = tuple(sorted(self.adder.columns))
        amounts = np.column_stack([self.adder.columns[line] for line in lines]) if lines else np.zeros((0, 0))
        return Inventory(self.groups, lines, amounts)

    def counts(self) -> None:
        """Add counts of batches, parts and rejects, dry masses, hours and cost."""
        for name, vector, unit in (
            ("batches", np.ones(self.size), "1"),
            ("good parts", self.good, "1"),
            ("rejects", self.rejects, "1"),
            ("dry mass of good parts", self.good_dry, "kg"),
            ("dry mass in", self.in_dry, "kg"),
            ("dry mass out", self.out_dry, "kg"),
            ("dry binder", self.binder_dry, "kg"),
            ("hours", recorded(self.batches.floats("hours")), "h"),
            ("cost", recorded(self.batches.floats("cost")), "1"),
        ):
            self.put("count", name, "", "", unit, vector)


def batch_amounts(batches: BatchTable, workshop: Workshop, central: Central) -> BatchAmounts:
    """Return dry fibre, binder and rejects of each batch; arguments as of `take_stock`."""
    return _Stock(batches, workshop, central).batch_amounts()


def take_stock(
    batches: BatchTable, workshop: Workshop, central: Central, *, by: Sequence[str] = BY_PART
) -> tuple[Inventory, Balance]:
    """Return the inventory of a table of batches and the dry mass balance of each batch.

    Parameters
    ----------
    batches : BatchTable
        Batches in canonical columns, see `impact.records.batches`.
    workshop : Workshop
        The folder's settings: parts, moulds, recipes, drying.
    central : callable
        Central value of a factor key, for what a batch leaves blank.
    by : sequence of str
        Columns by which the batches are grouped: `BY_PART` or `BY_SITE`.
    """
    stock = _Stock(batches, workshop, central, by=by)
    balance = Balance(
        stock.in_dry, stock.out_dry, np.asarray(unaccounted_share(stock.in_dry, stock.out_dry)), stock.batch_amounts()
    )
    return stock.inventory(), balance


def records_behind(batches: BatchTable, workshop: Workshop, central: Central) -> dict[Line, np.ndarray]:
    """Return, for each line, which batches bring something to it; arguments as of `take_stock`."""
    stock = _Stock(batches, workshop, central, adder=Marker)
    stock.fill()
    return cast(Marker, stock.adder).marks
