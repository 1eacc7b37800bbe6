"""From batches to activity amounts: one row per group of batches, one column per line.

A line is (account, activity, item, evidence class). Every amount is linear in the batches, so groups
are sums, and adding batches adds rows; what is not linear (factors, shares, lives) waits for the unit
impacts. Accounts are the life-cycle stages, ``diverted`` (what would have happened to the paper),
``mass`` (paper by weight, no emission) and ``count``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from impact.core import FloatArray
from impact.core.moisture import as_weighed, dry_mass, unaccounted_share

if TYPE_CHECKING:
    import pandas as pd

    from impact.workshop import Workshop

STAGES = ("paper", "binder", "making", "mould", "transport", "end_of_life")
"""Life-cycle stages of a moulded part, in their order."""

GROUP_COLUMNS = ("site", "part", "binder")
OWN_REJECTS = "own rejects"
UNRECORDED = "unrecorded"
SPLIT = "split"

Central = Callable[[str], float]


@dataclass(frozen=True, slots=True, order=True)
class Line:
    """One column of the inventory.

    Attributes
    ----------
    account : str
        Life-cycle stage, or ``diverted``, ``mass``, ``count``.
    activity, item : str
        What was done, and to or with what (a grade, a binder, ``grade|fate``).
    evidence : str
        Evidence class of the amount; blank for counts.
    unit : str
        Unit of the amount.
    """

    account: str
    activity: str
    item: str
    evidence: str
    unit: str


@dataclass(frozen=True)
class Inventory:
    """Activity amounts by group of batches.

    Attributes
    ----------
    groups : DataFrame
        Site, part and binder of each row of `amounts`.
    lines : tuple of Line
        The columns of `amounts`.
    amounts : ndarray, shape (groups, lines)
        Amounts in the unit of each line.
    """

    groups: pd.DataFrame
    lines: tuple[Line, ...]
    amounts: FloatArray

    def where(self, **wanted: str) -> Inventory:
        """Return the inventory of the groups whose columns have the wanted values."""
        mask = np.ones(len(self.groups), dtype=bool)
        for column, value in wanted.items():
            mask &= (self.groups[column] == value).to_numpy()
        return Inventory(self.groups[mask], self.lines, self.amounts[mask])

    def total(self) -> FloatArray:
        """Return the sum over all groups, one amount per line."""
        total: FloatArray = self.amounts.sum(axis=0)
        return total

    def by_line(self) -> dict[Line, float]:
        """Return the sum over all groups by line."""
        return dict(zip(self.lines, self.total().tolist(), strict=True))

    def sum_of(self, account: str, activity: str, *, item: str | None = None) -> float:
        """Return the amount of an activity, over all evidence classes and, unless named, all items."""
        chosen = [
            index
            for index, line in enumerate(self.lines)
            if line.account == account and line.activity == activity and item in (None, line.item)
        ]
        return float(self.total()[chosen].sum()) if chosen else 0.0

    def items(self, account: str, activity: str) -> dict[str, float]:
        """Return the amounts of an activity by item."""
        found: dict[str, float] = {}
        for line, amount in self.by_line().items():
            if line.account == account and line.activity == activity:
                found[line.item] = found.get(line.item, 0.0) + amount
        return found


def merged(inventories: Sequence[Inventory]) -> Inventory:
    """Return the sum of inventories, added in their order: same groups are added, lines are united."""
    import pandas as pd

    lines = tuple(sorted({line for inventory in inventories for line in inventory.lines}))
    position = {line: index for index, line in enumerate(lines)}
    together = pd.concat([inventory.groups for inventory in inventories], ignore_index=True)
    by = list(together.columns)
    codes = together.groupby(by, sort=True).ngroup().to_numpy()
    groups = together.drop_duplicates().sort_values(by).reset_index(drop=True)
    amounts = np.zeros((len(groups), len(lines)))
    above = 0
    for inventory in inventories:
        rows = codes[above : above + len(inventory.groups)]
        above += len(rows)
        places = np.array([position[line] for line in inventory.lines], dtype=np.int64)
        amounts[np.ix_(rows, places)] += inventory.amounts
    return Inventory(groups, lines, amounts)


@dataclass(frozen=True)
class Coded:
    """A column of texts: the distinct ones, and the place of each batch's text among them."""

    names: tuple[str, ...]
    codes: np.ndarray

    @classmethod
    def of(cls, frame: pd.DataFrame, column: str) -> Coded:
        """Return a column of a frame."""
        import pandas as pd

        series = frame[column]
        if isinstance(series.dtype, pd.CategoricalDtype):
            return cls(tuple(series.cat.categories.astype(str)), series.cat.codes.to_numpy().astype(np.int64))
        codes, distinct = pd.factorize(series)
        return cls(tuple(str(text) for text in distinct), codes.astype(np.int64))

    def where(self, name: str) -> np.ndarray:
        """Return which batches have a text."""
        return self.codes == self.names.index(name) if name in self.names else np.zeros(len(self.codes), dtype=bool)

    def present(self, rows: np.ndarray | None = None) -> list[str]:
        """Return the texts of the batches, or of some of them, sorted."""
        codes = self.codes if rows is None else self.codes[rows]
        return sorted(self.names[code] for code in np.flatnonzero(np.bincount(codes, minlength=len(self.names))))

    def spread(self, values: Mapping[str, float]) -> FloatArray:
        """Return the value of each batch's text; NaN for texts without one."""
        listed = np.array([values.get(name, np.nan) for name in self.names] or [np.nan], dtype=float)
        spread: FloatArray = listed[self.codes]
        return spread


class _Adder:
    """Adds vectors over batches into the group rows of each line."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        self.codes = codes
        self.groups = groups
        self.columns: dict[Line, FloatArray] = {}
        self._keys: dict[tuple[int, int], tuple[np.ndarray, np.ndarray]] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        """Add a vector to one line, of all batches or of some."""
        if where is not None:
            vector = np.where(where, vector, 0.0)
        self._put(line, np.asarray(np.bincount(self.codes, weights=vector, minlength=self.groups), dtype=np.float64))

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        """Add a vector to several lines at once: what each batch adds goes to the line of its code, None to none."""
        key = (id(codes), len(lines))
        _, keys = self._keys.get(key, (codes, None))
        if keys is None:
            keys = self.codes * len(lines) + codes
            self._keys[key] = codes, keys  # the codes are kept with their keys, so that no other takes their id
        sums: FloatArray = np.bincount(keys, weights=vector, minlength=self.groups * len(lines)).astype(np.float64)
        for line, column in zip(lines, sums.reshape(self.groups, len(lines)).T, strict=True):
            if line is not None:
                self._put(line, column)

    def _put(self, line: Line, column: FloatArray) -> None:
        if column.any():
            self.columns[line] = self.columns[line] + column if line in self.columns else column


class _Marker(_Adder):
    """Marks the batches that bring something to each line, in place of adding up what they bring."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        super().__init__(codes, groups)
        self.marks: dict[Line, np.ndarray] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        some = vector != 0.0 if where is None else where & (vector != 0.0)
        if some.any():
            self.marks[line] = some | self.marks.get(line, False)

    def split(self, lines: Sequence[Line | None], codes: np.ndarray, vector: FloatArray) -> None:
        for place, line in enumerate(lines):
            if line is not None:
                self.add(line, vector, codes == place)


@dataclass(frozen=True)
class Balance:
    """Dry mass balance of each batch.

    Attributes
    ----------
    in_kg, out_kg : ndarray
        Dry matter that went in and that was found again. [kg]
    unaccounted : ndarray
        Share of the inflow not found again. [-]
    amounts : BatchAmounts
        What the inflow is made of.
    """

    in_kg: FloatArray
    out_kg: FloatArray
    unaccounted: FloatArray
    amounts: BatchAmounts


def _grades(frame: pd.DataFrame) -> list[str]:
    return [name.removeprefix("paper.").removesuffix("_kg") for name in frame.columns if name.startswith("paper.")]


def _floats(frame: pd.DataFrame, column: str) -> FloatArray:
    return frame[column].to_numpy(dtype=float)


class _Stock:
    """Works out the vectors of one table of batches and adds them up."""

    def __init__(self, frame: pd.DataFrame, workshop: Workshop, central: Central, adder: type[_Adder] = _Adder) -> None:
        self.frame = frame
        self.workshop = workshop
        self.central = central
        self.size = len(frame)
        self.group_frame, codes = _group(frame)
        self.adder = adder(codes, len(self.group_frame))
        self.part_moisture = workshop.part_moisture if workshop.part_moisture is not None else central("part.moisture")
        self.binder = Coded.of(frame, "binder")
        self.glues = [name for name in self.binder.present() if name not in ("none", "")]
        self.routes = {loss: Coded.of(frame, f"{loss}_to") for loss in ("rejects", "trim")}
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
        moisture = _floats(self.frame, "moisture")
        known = ~np.isnan(moisture)
        fates = Coded.of(self.frame, "fate")
        weighed, water = np.zeros(self.size), np.zeros(self.size)
        for grade in _grades(self.frame):
            mass = _floats(self.frame, f"paper.{grade}_kg")
            if not mass.any():
                continue
            wet = np.where(known, moisture, self.central(f"paper.moisture.{grade}"))
            self.dry[grade] = np.asarray(dry_mass(mass, wet))
            weighed, water = weighed + mass, water + mass * wet
            for account, activity, vector in (
                ("mass", "collected", mass),
                ("diverted", "dry paper", np.where(known, self.dry[grade], 0.0)),
                ("diverted", "paper as weighed", np.where(known, 0.0, mass)),
            ):
                lines = [Line(account, activity, f"{grade}|{fate or SPLIT}", "weighed", "kg") for fate in fates.names]
                self.adder.split(lines, fates.codes, vector)
        self.weighed = weighed
        self.mean_moisture = np.divide(water, weighed, out=np.full(self.size, self.part_moisture), where=weighed > 0.0)
        self.dry_fibre = np.sum([np.zeros(self.size), *self.dry.values()], axis=0)
        self.own_rejects_dry = np.asarray(dry_mass(_floats(self.frame, "own_rejects_kg"), self.part_moisture))
        self.put("mass", "dry fibre", "", "weighed", "kg", self.dry_fibre)

    def _binder_dry(self) -> None:
        mass, solids = _floats(self.frame, "binder_kg"), _floats(self.frame, "binder_solids")
        recipes = {name: self.workshop.binders[name] for name in self.glues if name in self.workshop.binders}
        stated = {name: recipe.solids for name, recipe in recipes.items() if recipe.solids is not None}
        default = {
            name: stated[name] if name in stated else self.central(f"binder.solids.{name}") for name in self.glues
        }
        used = np.isin(self.binder.codes, [self.binder.names.index(name) for name in self.glues])
        blank = np.isnan(mass)
        guessed, weighed = used & blank, used & ~blank
        share = np.where(np.isnan(solids), self.binder.spread(default), solids)
        sure = weighed & (~np.isnan(self.binder.spread(stated)) | ~np.isnan(solids))
        dose = {name: self.central(f"binder.dose.{name}") for name in self.binder.present(guessed)}
        self.binder_dry = np.where(weighed, mass * share, 0.0)
        self.binder_dry = np.where(guessed, self.binder.spread(dose) * self.dry_fibre, self.binder_dry)
        self.binder_solids = np.where(used, share, 1.0)
        self.binder_used = np.where(used, self.binder_dry / self.binder_solids, 0.0)
        for activity, evidence, vector in (
            ("dry binder", "weighed", np.where(sure, self.binder_dry, 0.0)),
            ("binder as used", "weighed", np.where(weighed & ~sure, mass, 0.0)),
            ("estimated binder", "estimated", np.where(guessed, self.dry_fibre, 0.0)),
        ):
            lines = [Line("binder", activity, name, evidence, "kg") for name in self.binder.names]
            self.adder.split(lines, self.binder.codes, vector)
        self._energy("binder", "binder_preparation", self.binder_used, items=self.binder, where=used)

    # -- what came out ---------------------------------------------------------------------------

    def _parts(self) -> None:
        frame, workshop = self.frame, self.workshop
        names = Coded.of(frame, "part")
        listed = names.spread({name: part.mass_kg for name, part in workshop.parts.items()})
        mass = _floats(frame, "part_mass_kg")
        mass = np.where(np.isnan(mass), listed, mass)
        self.good = _floats(frame, "good_parts")
        rejects, trim = _floats(frame, "rejects"), _floats(frame, "trim_kg")
        rejects_known, trim_known = ~np.isnan(rejects), ~np.isnan(trim)
        if not rejects_known.all():
            rate = self.central("estimate.reject-rate")
            rejects = np.where(rejects_known, rejects, self.good * rate / (1.0 - rate))
        if not trim_known.all():
            trim = np.where(trim_known, trim, self.good * mass * self.central("estimate.trim"))
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

        def share(part: FloatArray) -> FloatArray:
            divided: FloatArray = np.divide(part, fresh, out=np.zeros(self.size), where=known)
            return divided

        self._own = np.divide(self.own_rejects_dry, self.in_dry, out=np.zeros(self.size), where=self.in_dry > 0.0)
        self.put("mass", "own rejects in parts", "", "weighed", "kg", self.good_dry * self._own)
        self._fates = {loss: self._fates_of(loss) for loss in self.losses}
        for grade, dry in self.dry.items():
            self._fibre(grade, share(dry))
        if self.glues:
            self._glue(share(self.binder_dry))
        if not known.all():
            self._fibre(OWN_REJECTS, np.where(known, 0.0, 1.0))

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
        kwh = _floats(self.frame, f"{activity}_kwh")
        evidence = Coded.of(self.frame, f"{activity}_kwh_evidence")
        name = activity.replace("_", " ")
        blank = np.isnan(kwh)
        counted = ~blank if where is None else ~blank & where
        words: list[Line | None] = [
            Line(stage, name, "electricity", word, "kWh") if word in ("metered", "nameplate") else None
            for word in evidence.names
        ]
        self.adder.split(words, evidence.codes, np.where(counted, kwh, 0.0))
        missing = np.where(blank if where is None else blank & where, driver, 0.0)
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
        dried = np.where(self.out_dry > 0.0, self.out_dry, self.in_dry)
        drying = self.workshop.drying
        self._energy("making", "drying", dried, item=drying.dryer or UNRECORDED)
        if drying.heated_room:
            self.put("making", "heat from the room", drying.heating, "estimated", "kg", dried)
        water = _floats(self.frame, "water_l")
        known = ~np.isnan(water)
        self.put("making", "water", "", "weighed", "m3", water / 1000.0, known)
        self.put("making", "estimated water", "", "estimated", "kg", pulped, ~known)
        lines = [self._pressings(part) for part in self.names.names]
        self.adder.split(lines, self.names.codes, self.good + self.rejects)
        driven = _floats(self.frame, "transport_km")
        known = ~np.isnan(driven)
        vehicle = self.workshop.vehicle
        self.put("transport", "driving", vehicle, "metered", "km", driven, known)
        self.put("transport", "estimated driving", vehicle, "estimated", "kg", self.weighed, ~known)

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
        return Inventory(self.group_frame, lines, amounts)

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
            ("hours", np.nan_to_num(_floats(self.frame, "hours")), "h"),
            ("cost", np.nan_to_num(_floats(self.frame, "cost")), "1"),
        ):
            self.put("count", name, "", "", unit, vector)


def texts(frame: pd.DataFrame, column: str) -> np.ndarray:
    """Return a column as texts."""
    coded = Coded.of(frame, column)
    listed: np.ndarray = np.array(coded.names or ("",))
    return np.asarray(listed[coded.codes])


def _group(frame: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the groups of batches, in the order of their columns, and the group of each batch."""
    import pandas as pd

    ranks = np.zeros(len(frame), dtype=np.int64)
    labels = []
    for column in GROUP_COLUMNS:
        coded = Coded.of(frame, column)
        order = np.argsort(np.array(coded.names, dtype=object))
        places = np.argsort(order)
        labels.append(np.array(coded.names, dtype=object)[order])
        ranks = ranks * max(len(order), 1) + (places[coded.codes] if len(order) else 0)
    first, codes = _distinct(ranks, int(np.prod([len(names) for names in labels])))
    groups = {}
    for column, names in zip(reversed(GROUP_COLUMNS), reversed(labels), strict=True):
        first, place = np.divmod(first, max(len(names), 1))
        groups[column] = names[place]
    return pd.DataFrame({column: groups[column] for column in GROUP_COLUMNS}, dtype=object), codes


def _distinct(ranks: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the ranks that occur, in their order, and the place of each among them; all lie below `most`."""
    if most > 16 * len(ranks) + 1000:
        found, codes = np.unique(ranks, return_inverse=True)
        return found, codes
    found = np.flatnonzero(np.bincount(ranks, minlength=most))
    places = np.zeros(most, dtype=np.int64)
    places[found] = np.arange(len(found))
    return found, places[ranks]


@dataclass(frozen=True)
class BatchAmounts:
    """What the records of each batch come to, blanks filled by the central estimates.

    Attributes
    ----------
    dry_fibre_kg, dry_binder_kg : ndarray
        Dry matter of fresh paper and of binder. [kg]
    binder_solids : ndarray
        Dry matter per kg of binder as used; 1 where none is used. [-]
    rejects : ndarray
        Failed parts. [-]
    """

    dry_fibre_kg: FloatArray
    dry_binder_kg: FloatArray
    binder_solids: FloatArray
    rejects: FloatArray


def batch_amounts(frame: pd.DataFrame, workshop: Workshop, central: Central) -> BatchAmounts:
    """Return dry fibre, binder and rejects of each batch; arguments as of `take_stock`."""
    return _Stock(frame, workshop, central).batch_amounts()


def take_stock(frame: pd.DataFrame, workshop: Workshop, central: Central) -> tuple[Inventory, Balance]:
    """Return the inventory of a table of batches and the dry mass balance of each batch.

    Parameters
    ----------
    frame : DataFrame
        Batches in canonical columns, see `impact.batches`.
    workshop : Workshop
        The folder's settings: parts, moulds, recipes, drying.
    central : callable
        Central value of a factor key, for what a batch leaves blank.
    """
    stock = _Stock(frame, workshop, central)
    balance = Balance(
        stock.in_dry, stock.out_dry, np.asarray(unaccounted_share(stock.in_dry, stock.out_dry)), stock.batch_amounts()
    )
    return stock.inventory(), balance


def records_behind(frame: pd.DataFrame, workshop: Workshop, central: Central) -> dict[Line, np.ndarray]:
    """Return, for each line, which batches bring something to it; arguments as of `take_stock`."""
    stock = _Stock(frame, workshop, central, _Marker)
    stock.fill()
    return cast(_Marker, stock.adder).marks
