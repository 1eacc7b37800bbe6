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

GROUP_COLUMNS = ("site", "part", "binder", "month")
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
        Site, part, binder and month of each row of `amounts`.
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
    """Return the sum of inventories: same groups are added, lines are united."""
    import pandas as pd

    lines = tuple(sorted({line for inventory in inventories for line in inventory.lines}))
    position = {line: index for index, line in enumerate(lines)}
    frames = []
    for inventory in inventories:
        amounts = np.zeros((len(inventory.groups), len(lines)))
        amounts[:, [position[line] for line in inventory.lines]] = inventory.amounts
        frames.append(pd.concat([inventory.groups.reset_index(drop=True), pd.DataFrame(amounts)], axis=1))
    together = (
        pd.concat(frames, ignore_index=True).groupby(list(GROUP_COLUMNS), sort=True, observed=True).sum().reset_index()
    )
    return Inventory(together[list(GROUP_COLUMNS)], lines, together[list(range(len(lines)))].to_numpy())


class _Adder:
    """Adds vectors over batches into the group rows of each line."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        self.codes = codes
        self.groups = groups
        self.columns: dict[Line, FloatArray] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        if where is not None:
            vector = np.where(where, vector, 0.0)
        if not vector.any():
            return
        column = np.bincount(self.codes, weights=vector, minlength=self.groups).astype(np.float64)
        if line in self.columns:
            column = self.columns[line] + column
        self.columns[line] = column


class _Marker(_Adder):
    """Marks the batches that bring something to each line, in place of adding up what they bring."""

    def __init__(self, codes: np.ndarray, groups: int) -> None:
        super().__init__(codes, groups)
        self.marks: dict[Line, np.ndarray] = {}

    def add(self, line: Line, vector: FloatArray, where: np.ndarray | None = None) -> None:
        some = vector != 0.0 if where is None else where & (vector != 0.0)
        if some.any():
            self.marks[line] = some | self.marks.get(line, False)


@dataclass(frozen=True)
class Balance:
    """Dry mass balance of each batch.

    Attributes
    ----------
    in_kg, out_kg : ndarray
        Dry matter that went in and that was found again. [kg]
    unaccounted : ndarray
        Share of the inflow not found again. [-]
    """

    in_kg: FloatArray
    out_kg: FloatArray
    unaccounted: FloatArray


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
        self.binder = texts(frame, "binder")
        self.routes = {loss: texts(frame, f"{loss}_to") for loss in ("rejects", "trim")}
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
        fates = texts(self.frame, "fate")
        weighed, water = np.zeros(self.size), np.zeros(self.size)
        for grade in _grades(self.frame):
            mass = _floats(self.frame, f"paper.{grade}_kg")
            if not mass.any():
                continue
            wet = np.where(known, moisture, self.central(f"paper.moisture.{grade}"))
            self.dry[grade] = np.asarray(dry_mass(mass, wet))
            weighed, water = weighed + mass, water + mass * wet
            for fate in sorted(set(fates[mass > 0.0])):
                here = fates == fate
                item = f"{grade}|{fate or SPLIT}"
                self.put("mass", "collected", item, "weighed", "kg", mass, here)
                self.put("diverted", "dry paper", item, "weighed", "kg", self.dry[grade], here & known)
                self.put("diverted", "paper as weighed", item, "weighed", "kg", mass, here & ~known)
        self.weighed = weighed
        self.mean_moisture = np.divide(water, weighed, out=np.full(self.size, self.part_moisture), where=weighed > 0.0)
        self.dry_fibre = np.sum([np.zeros(self.size), *self.dry.values()], axis=0)
        self.own_rejects_dry = np.asarray(dry_mass(_floats(self.frame, "own_rejects_kg"), self.part_moisture))
        self.put("mass", "dry fibre", "", "weighed", "kg", self.dry_fibre)

    def _binder_dry(self) -> None:
        mass, solids = _floats(self.frame, "binder_kg"), _floats(self.frame, "binder_solids")
        self.binder_dry, self.binder_used = np.zeros(self.size), np.zeros(self.size)
        self.binder_solids = np.ones(self.size)
        for binder in sorted(set(self.binder) - {"none", ""}):
            here = self.binder == binder
            recipe = self.workshop.binders.get(binder)
            stated = recipe.solids if recipe is not None else None
            default = stated if stated is not None else self.central(f"binder.solids.{binder}")
            share = np.where(np.isnan(solids), default, solids)
            weighed = here & ~np.isnan(mass)
            guessed = here & np.isnan(mass)
            sure = weighed & ((stated is not None) | ~np.isnan(solids))
            self.put("binder", "dry binder", binder, "weighed", "kg", mass * share, sure)
            self.put("binder", "binder as used", binder, "weighed", "kg", mass, weighed & ~sure)
            self.put("binder", "estimated binder", binder, "estimated", "kg", self.dry_fibre, guessed)
            self.binder_dry = np.where(weighed, mass * share, self.binder_dry)
            if guessed.any():
                self.binder_dry = np.where(
                    guessed, self.central(f"binder.dose.{binder}") * self.dry_fibre, self.binder_dry
                )
            self.binder_solids = np.where(here, share, self.binder_solids)
            self.binder_used = np.where(here, self.binder_dry / share, self.binder_used)
            self._energy("binder", "binder_preparation", self.binder_used, item=binder, where=here)

    # -- what came out ---------------------------------------------------------------------------

    def _parts(self) -> None:
        frame, workshop = self.frame, self.workshop
        names = texts(frame, "part")
        listed = _mapped(names, {name: part.mass_kg for name, part in workshop.parts.items()})
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

    def composition(self) -> list[tuple[str, str, FloatArray]]:
        """Return (kind, item, share of the dry output) for fibre by grade and binder; unknown for pure own rejects."""
        fresh = self.dry_fibre + self.binder_dry
        known = fresh > 0.0

        def share(part: FloatArray) -> FloatArray:
            divided: FloatArray = np.divide(part, fresh, out=np.zeros(self.size), where=known)
            return divided

        parts = [("fibre", grade, share(dry)) for grade, dry in self.dry.items()]
        for binder in sorted(set(self.binder) - {"none", ""}):
            parts.append(("binder", binder, share(np.where(self.binder == binder, self.binder_dry, 0.0))))
        if not known.all():
            parts.append(("fibre", OWN_REJECTS, np.where(known, 0.0, 1.0)))
        return parts

    def outputs(self) -> None:
        """Add what happens to parts and losses, by composition."""
        own = np.divide(self.own_rejects_dry, self.in_dry, out=np.zeros(self.size), where=self.in_dry > 0.0)
        self.put("mass", "own rejects in parts", "", "weighed", "kg", self.good_dry * own)
        for kind, item, share in self.composition():
            in_parts = self.good_dry * share
            self.put("end_of_life", f"{kind} in parts", item, "weighed", "kg", in_parts)
            if kind == "fibre":
                self.put(
                    "mass", "put to use", item, "weighed", "kg", np.asarray(as_weighed(in_parts, self.mean_moisture))
                )
                self.put("mass", "recovered fibre in parts", item, "weighed", "kg", in_parts * (1.0 - own))
                again = np.asarray(as_weighed(self.own_rejects_dry * share, self.mean_moisture))
                self.put("mass", "pulped again", item, "weighed", "kg", again)
            for loss, (dry, known) in self.losses.items():
                self._loss(kind, item, loss, dry * share, known)

    def _loss(self, kind: str, item: str, loss: str, dry: FloatArray, known: np.ndarray) -> None:
        route = self.routes[loss]
        for fate in sorted(set(route)):
            here = route == fate
            goes = fate or "landfill"
            for evidence, rows in (("weighed", here & known), ("estimated", here & ~known)):
                word = "assumed" if fate == "" and evidence == "weighed" else evidence
                self.put("end_of_life", f"{kind} in losses", f"{item}|{goes}", word, "kg", dry, rows)
            if kind == "fibre":
                returned = np.asarray(as_weighed(dry, self.mean_moisture))
                self.put("mass", "returned", f"{item}|{goes}", "weighed", "kg", returned, here)

    # -- making ---------------------------------------------------------------------------------------

    def _energy(
        self, stage: str, activity: str, driver: FloatArray, *, item: str = "", where: np.ndarray | None = None
    ) -> None:
        """Add recorded kWh by evidence class, and the driver of the estimate where nothing was recorded."""
        kwh = _floats(self.frame, f"{activity}_kwh")
        evidence = texts(self.frame, f"{activity}_kwh_evidence")
        everywhere = np.ones(self.size, dtype=bool) if where is None else where
        name = activity.replace("_", " ")
        for word in ("metered", "nameplate"):
            self.put(stage, name, "electricity", word, "kWh", kwh, everywhere & (evidence == word))
        blank = everywhere & np.isnan(kwh)
        self.put(stage, f"estimated {name}", item, "estimated", "kg", driver, blank)

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
        for part in sorted(set(self.names)):
            mould = self.workshop.parts[part].mould
            word = "metered" if self.workshop.moulds[mould].retired else "assumed"
            self.put("mould", "pressings", mould, word, "1", self.good + self.rejects, self.names == part)
        driven = _floats(self.frame, "transport_km")
        known = ~np.isnan(driven)
        vehicle = self.workshop.vehicle
        self.put("transport", "driving", vehicle, "metered", "km", driven, known)
        self.put("transport", "estimated driving", vehicle, "estimated", "kg", self.weighed, ~known)

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


def _mapped(names: np.ndarray, values: Mapping[str, float]) -> FloatArray:
    unique, codes = np.unique(names, return_inverse=True)
    return np.array([values[name] for name in unique], dtype=float)[codes]


def texts(frame: pd.DataFrame, column: str) -> np.ndarray:
    """Return a column as texts, each distinct one made once."""
    import pandas as pd

    codes, distinct = pd.factorize(frame[column])
    return np.asarray(distinct, dtype=object).astype(str)[codes] if len(distinct) else np.full(len(frame), "")


def _group(frame: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the groups of batches, in the order of their columns, and the group of each batch."""
    import pandas as pd

    ranks = np.zeros(len(frame), dtype=np.int64)
    labels = []
    for column in GROUP_COLUMNS:
        if column == "month":
            months, codes = np.unique(frame["date"].to_numpy().astype("datetime64[M]"), return_inverse=True)
            names = months.astype(str)
        else:
            found, distinct = pd.factorize(frame[column])
            unsorted = np.asarray(distinct, dtype=object).astype(str)
            order = np.argsort(unsorted)
            names, codes = unsorted[order], np.argsort(order)[found]
        labels.append(names)
        ranks = ranks * len(names) + codes
    first, codes = np.unique(ranks, return_inverse=True)
    groups = {}
    for column, names in zip(reversed(GROUP_COLUMNS), reversed(labels), strict=True):
        first, place = np.divmod(first, len(names))
        groups[column] = names[place]
    return pd.DataFrame({column: groups[column] for column in GROUP_COLUMNS}).astype(object), codes


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
    stock = _Stock(frame, workshop, central)
    return BatchAmounts(stock.dry_fibre, stock.binder_dry, stock.binder_solids, stock.rejects)


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
    balance = Balance(stock.in_dry, stock.out_dry, np.asarray(unaccounted_share(stock.in_dry, stock.out_dry)))
    return stock.inventory(), balance


def records_behind(frame: pd.DataFrame, workshop: Workshop, central: Central) -> dict[Line, np.ndarray]:
    """Return, for each line, which batches bring something to it; arguments as of `take_stock`."""
    stock = _Stock(frame, workshop, central, _Marker)
    stock.fill()
    return cast(_Marker, stock.adder).marks
