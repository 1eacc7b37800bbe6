"""Whole columns of cells to arrays: regular cells at once, odd ones singly, faults reported with their place."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from impact.batchtable import EVIDENCE
from impact.energy import Energy, PowerSource, parse_energy
from impact.marks import Marks, normalised, plain_amount, settle
from impact.problems import choices
from impact.spellings import CANONICAL, fold
from impact.tables import Column, Table
from impact.texts import Coded, Codes, Texts
from impact.units import LARGEST, UnitError, parse_money, parse_number, parse_quantity, parse_share, refuse, unit_factor

if TYPE_CHECKING:
    import numpy as np

    Flags = np.ndarray[Any, np.dtype[np.bool_]]
    FloatArray = np.ndarray[Any, np.dtype[np.float64]]

Faults = list[tuple[int, UnitError]]
METERED, NAMEPLATE, ESTIMATED = range(3)
"""Places in `EVIDENCE`; the first is 0."""

Parse = Callable[[str, Marks | None], float]
"""Reads one cell under the marks of its column; None for a cell that is a number already."""


@dataclass(frozen=True)
class Manner:
    """How the cells of a column are read.

    Attributes
    ----------
    parse : callable
        Reads one cell that is not a plain number, or raises `UnitError`.
    factor : float
        Canonical unit per unit of a plain number.
    most : float
        Largest plain number that needs no second look.
    decimal, stated : str, bool
        Decimal mark of the file and whether the workshop states it, as in `impact.marks.settle`.
    """

    parse: Parse
    factor: float = 1.0
    most: float = LARGEST
    decimal: str = "."
    stated: bool = False

    def is_regular(self, amounts: FloatArray) -> Flags:
        """Return which plain numbers need no second look; none that is NaN."""
        import numpy as np

        with np.errstate(invalid="ignore"):
            flags: Flags = (amounts >= 0.0) & (amounts <= self.most) & (amounts * self.factor <= LARGEST)
        return flags


def convert(column: Column, manner: Manner) -> tuple[FloatArray, Faults]:
    """Return a column as floats, NaN where blank, with a `UnitError` for each faulty position.

    Each spelling is read once. Cells that were read as numbers are read again as written where one is at fault.

    Parameters
    ----------
    column : Column
        Text, or numbers.
    manner : Manner
        How its cells are read.
    """
    import numpy as np

    if isinstance(column.values, np.ndarray):
        amounts, faults = _of_numbers(column.values, column.values, manner)
        return convert(column.as_written, manner) if faults and column.written else (amounts, faults)
    texts = column.values.coded()
    if column.numbers is None:
        distinct, faulty = _of_spellings(texts.names, manner)
        return _at(texts.codes, distinct, faulty)
    typed = np.isfinite(column.numbers)
    untyped = texts.kept(~typed).ordered()
    distinct, faulty = _of_spellings(untyped.names, manner)
    result = np.full(len(texts), np.nan)
    result[~typed], spelled = _at(untyped.codes, distinct, faulty)
    places = np.flatnonzero(typed)
    result[typed], numbered = _of_numbers(column.numbers[typed], [texts[place] for place in places.tolist()], manner)
    elsewhere = np.flatnonzero(~typed)
    faults = [(int(elsewhere[at]), error) for at, error in spelled]
    faults += [(int(places[at]), error) for at, error in numbered]
    return result, sorted(faults, key=lambda fault: fault[0])


def _of_numbers(
    values: np.ndarray[Any, Any], cells: Sequence[str] | np.ndarray[Any, Any], manner: Manner
) -> tuple[FloatArray, Faults]:
    """Return cells that the file keeps as numbers; those that are not regular are parsed as they are spelled."""
    import numpy as np

    amounts = np.asarray(values, dtype=float)
    if not len(amounts):
        return amounts, []
    least, largest = float(np.fmin.reduce(amounts)), float(np.fmax.reduce(amounts))
    if not (least < 0.0 or largest > manner.most or largest * manner.factor > LARGEST):
        return (amounts if manner.factor == 1.0 else amounts * manner.factor), []
    regular = manner.is_regular(amounts)
    result = np.where(regular, amounts * manner.factor, np.nan)
    odd = np.flatnonzero(~regular & ~np.isnan(amounts))
    spelled = {str(cells[at]) for at in odd.tolist()}
    outcomes = {text: _attempt(manner.parse, text, None) for text in spelled}
    faults: Faults = []
    for at in odd.tolist():
        outcome = outcomes[str(cells[at])]
        if isinstance(outcome, UnitError):
            faults.append((at, outcome))
        else:
            result[at] = outcome
    return result, faults


def _of_spellings(spellings: Sequence[str], manner: Manner) -> tuple[FloatArray, dict[int, UnitError]]:
    """Return the amount of each spelling of a column, NaN for a blank, and what is wrong with those that are none."""
    import numpy as np

    marks, plain = settle(spellings, manner.decimal, stated=manner.stated)
    amounts = np.array(
        [plain_amount(text) if is_plain else math.nan for text, is_plain in zip(spellings, plain, strict=True)]
    )
    regular = manner.is_regular(amounts)
    amounts = amounts * manner.factor
    faulty: dict[int, UnitError] = {}
    for place in np.flatnonzero(~regular).tolist():
        if not spellings[place]:
            continue
        outcome = _attempt(manner.parse, spellings[place], marks)
        if isinstance(outcome, UnitError):
            amounts[place], faulty[place] = math.nan, outcome
        else:
            amounts[place] = outcome
    return amounts, faulty


def _at(
    codes: np.ndarray[Any, Any], distinct: FloatArray, faulty: Mapping[int, UnitError]
) -> tuple[FloatArray, Faults]:
    """Return the amounts of distinct cells, and their faults, at the places that codes say."""
    import numpy as np

    places = np.flatnonzero(np.isin(codes, list(faulty))).tolist() if faulty else []
    amounts = distinct[codes] if len(distinct) else np.full(len(codes), np.nan)
    return amounts, [(place, faulty[int(codes[place])]) for place in places]


def _attempt(parse: Parse, text: str, marks: Marks | None) -> float | UnitError:
    try:
        return parse(text, marks)
    except UnitError as error:
        return UnitError(error.reason, read=text, accepted=error.accepted, code=error.code)


def in_points(text: str, marks: Marks | None) -> str:
    """Return a cell with its numbers written with decimal points; one that is a number is so already."""
    return text if marks is None else normalised(text, marks)


def quantities(
    column: Column, dimension: str, *, decimal: str = ".", stated: bool = False
) -> tuple[FloatArray, Faults]:
    """Return a column of quantities in the canonical unit of `dimension`, NaN where blank.

    Parameters
    ----------
    column : Column
        Text, or numbers; its unit is that of bare numbers, by default the canonical one.
    dimension : str
        As in `impact.units.parse_quantity`.
    decimal, stated
        As of `Manner`.

    Returns
    -------
    ndarray
        Amounts.
    list of (int, UnitError)
        Position and fault of each cell that is no such quantity.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or of another dimension.
    """

    def parse(text: str, marks: Marks | None) -> float:
        return parse_quantity(in_points(text, marks), dimension, column.unit)

    factor = unit_factor(column.unit or CANONICAL[dimension], dimension)
    return convert(column, Manner(parse, factor, decimal=decimal, stated=stated))


def parse_count(text: str) -> float:
    """Return a number of things, which has no unit.

    Raises
    ------
    UnitError
        Not a number, negative, or followed by something.
    """
    value, rest = parse_number(text)
    if rest:
        refuse("bad-number", f'"{rest}" after a number of things', text, "a whole number, 0 or more")
    return value


def _device_at_start(text: str, devices: Mapping[str, PowerSource]) -> str:
    """Return the device name that a cell starts with, in which marks are part of the name; else nothing."""
    words = text.casefold()
    return next((text[: len(name)] for name in devices if words.startswith(name.casefold())), "")


@dataclass(frozen=True)
class Energies:
    """A column of energy entries, read.

    Attributes
    ----------
    kwh : ndarray
        Amounts, NaN where blank or faulty. [kWh]
    known : ndarray
        How each is known, as a place in `EVIDENCE`.
    hours : ndarray
        Time of the run, NaN where the entry gives none. [h]
    faults : list of (int, UnitError)
        Position and fault of each cell that is no such entry.
    """

    kwh: FloatArray
    known: Codes
    hours: FloatArray
    faults: Faults


@lru_cache(maxsize=1 << 14)
def _energy(text: str, devices: tuple[tuple[str, PowerSource], ...], unit: str | None) -> Energy:
    """Return an energy entry, of which few spellings come again with every block of a file."""
    return parse_energy(text, dict(devices), unit)


class _EnergyReader:
    """Reads energy entries, and notes how each spelling is known and how long its run was.

    Parameters
    ----------
    devices : mapping of str to PowerSource
        Devices of the folder.
    unit : str or None
        Unit of bare numbers; None is kWh.
    """

    def __init__(self, devices: Mapping[str, PowerSource], unit: str | None) -> None:
        self.devices = devices
        self.listed = tuple(devices.items())
        self.unit = unit
        self.nameplate: set[str] = set()
        self.hours: dict[str, float] = {}

    def parse(self, text: str, marks: Marks | None) -> float:
        device = _device_at_start(text, self.devices)
        energy = _energy(device + in_points(text[len(device) :], marks), self.listed, self.unit)
        if energy.evidence == "nameplate":
            self.nameplate.add(text)
        if energy.hours is not None:
            self.hours[text] = energy.hours
        return energy.kwh


def read_energies(column: Column, devices: Mapping[str, PowerSource], decimal: str, stated: bool) -> Energies:
    """Return a column of energy entries.

    Parameters
    ----------
    column : Column
        Text, or numbers.
    devices : mapping of str to PowerSource
        Devices of the folder.
    decimal, stated : str, bool
        As of `Manner`.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or none of energy.
    """
    import numpy as np

    reader = _EnergyReader(devices, column.unit)
    factor = unit_factor(column.unit or CANONICAL["energy"], "energy")
    kwh, faults = convert(column, Manner(reader.parse, factor, decimal=decimal, stated=stated))
    known = np.isnan(kwh) * ESTIMATED
    hours = np.full(len(kwh), np.nan)
    if reader.nameplate or reader.hours:
        texts = column.text.coded()
        by_plate = texts.where_any(reader.nameplate)
        if column.numbers is not None:
            by_plate &= ~np.isfinite(column.numbers)
        known = known + by_plate * NAMEPLATE
        hours = texts.spread(reader.hours)
    return Energies(kwh, known, hours, faults)


class Cells:
    """Reads the picked columns of a table; a column that the table lacks reads as blank.

    Parameters
    ----------
    table : Table
        The table; faults are reported to it.
    columns : mapping of str to Column
        Its columns by known name.
    """

    def __init__(self, table: Table, columns: Mapping[str, Column]) -> None:
        self.table = table
        self.columns = columns
        self.size = len(table.rows)

    def _report(self, column: Column, faults: Faults) -> None:
        for index, error in faults:
            self.table.report(error.code, index, column.header, error.reason, read=error.read, accepted=error.accepted)

    def _read(
        self, column: Column, parse: Parse, *, factor: float = 1.0, most: float = LARGEST
    ) -> tuple[FloatArray, Faults]:
        return convert(column, Manner(parse, factor, most, self.table.decimal, self.table.stated))

    @cached_property
    def nothing(self) -> FloatArray:
        """A column in which nothing is recorded; one for all that the table lacks, thus not to be written to."""
        import numpy as np

        blank = np.full(self.size, np.nan)
        blank.flags.writeable = False
        return blank

    def _unit_refused(self, column: Column, accepted: str) -> None:
        message = f"the unit in the header of {column.name} is not understood"
        self.table.report("unit-not-allowed", None, column.header, message, read=column.header, accepted=accepted)

    def quantity(self, name: str, dimension: str) -> FloatArray:
        """Return a column of quantities in canonical units, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self.nothing
        try:
            values, faults = quantities(column, dimension, decimal=self.table.decimal, stated=self.table.stated)
        except UnitError as error:
            self.table.report(
                error.code, None, column.header, error.reason, read=column.header, accepted=error.accepted
            )
            return self.nothing
        self._report(column, faults)
        return values

    def share(self, name: str) -> FloatArray:
        """Return a column of shares as fractions of 1, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self.nothing
        percent = column.unit == "%"
        if column.unit not in (None, "%", "1"):
            self._unit_refused(column, f"{column.name} or {column.name} [%]")
        values, faults = self._read(
            column,
            lambda text, marks: parse_share(in_points(text, marks), percent=percent),
            factor=0.01 if percent else 1.0,
            most=100.0 if percent else 1.0,
        )
        self._report(column, faults)
        return values

    def count(self, name: str) -> FloatArray:
        """Return a column of whole numbers, NaN where blank or faulty."""
        import numpy as np

        column = self.columns.get(name)
        if column is None:
            return self.nothing
        if column.unit is not None:
            self._unit_refused(column, column.name)
        values, faults = self._read(column, lambda text, marks: parse_count(in_points(text, marks)))
        broken = np.isfinite(values) & (values != np.floor(values))
        values = np.where(broken, np.nan, values) if broken.any() else values
        for index in np.flatnonzero(broken):
            read, accepted = str(column.as_written.values[int(index)]), "a whole number, 0 or more"
            faults.append(
                (int(index), UnitError("this cannot be a fraction", read=read, accepted=accepted, code="not-whole"))
            )
        self._report(column, faults)
        return values

    def money(self, name: str, currency: str) -> FloatArray:
        """Return a column of amounts of money in the workshop's currency, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self.nothing
        if column.unit is not None and column.unit.casefold() != currency.casefold():
            self._unit_refused(column, f"{column.name}, in {currency or 'the currency of workshop.toml'}")
        values, faults = self._read(column, lambda text, marks: parse_money(in_points(text, marks), currency))
        self._report(column, faults)
        return values

    def energy(self, name: str, devices: Mapping[str, PowerSource] | None) -> tuple[FloatArray, Coded, FloatArray]:
        """Return a column of energy in kWh, NaN where blank or faulty, how each amount is known, and the hours of the run.

        The hours are NaN where the entry gives no time.

        Unknown devices are not reported where `devices` is None, that is where the list could not be read.
        """
        import numpy as np

        column = self.columns.get(name)
        nothing = self.nothing, Coded(EVIDENCE, np.full(self.size, ESTIMATED)), self.nothing
        if column is None:
            return nothing
        try:
            found = read_energies(column, devices or {}, self.table.decimal, self.table.stated)
        except UnitError as error:
            self.table.report(
                error.code, None, column.header, error.reason, read=column.header, accepted=error.accepted
            )
            return nothing
        self._report(
            column, [fault for fault in found.faults if devices is not None or fault[1].code != "unknown-device"]
        )
        return found.kwh, Coded(EVIDENCE, found.known), found.hours

    def text(self, name: str) -> Texts:
        """Return a column as stripped text, "" where blank."""
        column = self.columns.get(name)
        if column is None:
            return Coded.all("", self.size)
        if column.unit is not None:
            self._unit_refused(column, column.name)
        return column.text

    def ids(self, name: str, known: Mapping[str, object] | None, kind: str) -> Coded:
        """Return a column of known ids as written in the tables, "" where blank or unknown.

        Nothing is reported as unknown where `known` is None, that is where the list could not be read.
        """
        import numpy as np

        texts = self.text(name).coded()
        if known is None:
            return texts
        names = {fold(one): one for one in known}
        matched = [names.get(fold(text), "") for text in texts.names]
        unknown = {code: choices(text, known) for code, text in enumerate(texts.names) if text and not matched[code]}
        for index in np.flatnonzero(np.isin(texts.codes, list(unknown))) if unknown else ():
            self.fault(name, int(index), f"unknown-{kind}", f"unknown {kind}", unknown[int(texts.codes[index])])
        return texts.renamed(lambda text: names.get(fold(text), ""))

    def fault(self, name: str, index: int, code: str, message: str, accepted: str) -> None:
        """Report one cell of a column that the table has."""
        column = self.columns[name]
        read = str(column.as_written.values[index])
        self.table.report(code, index, column.header, message, read=read, accepted=accepted)

    def demand(self, name: str, missing: Flags, accepted: str) -> None:
        """Report each blank cell of a column that may not be blank."""
        if name in self.columns:
            for index in (self.columns[name].blank & missing).nonzero()[0]:
                self.fault(name, int(index), "missing-value", "the cell is blank", accepted)

    def refuse_zero(self, name: str, zero: Flags) -> None:
        """Report each cell of a column that must be more than 0 and is not."""
        for index in zero.nonzero()[0]:
            self.fault(name, int(index), "not-positive", "this must be more than 0", "more than 0")
