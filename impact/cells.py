"""Whole columns of cells to arrays: regular cells at once, odd ones singly, faults reported with their place."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from impact.energy import Energy, PowerSource, parse_energy
from impact.marks import Marks, normalised, plain_amounts, settle
from impact.problems import choices
from impact.spellings import CANONICAL, fold
from impact.tables import Column, Table
from impact.units import LARGEST, UnitError, parse_money, parse_number, parse_quantity, parse_share, refuse, unit_factor

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    Flags = np.ndarray[Any, np.dtype[np.bool_]]
    FloatArray = np.ndarray[Any, np.dtype[np.float64]]

Faults = list[tuple[int, UnitError]]
EVIDENCE = ("metered", "nameplate", "estimated")
METERED, NAMEPLATE, ESTIMATED = range(3)
Parse = Callable[[str, Marks | None], float]
"""Reads one cell under the marks of its column; None for a cell that is a number already."""


def convert_plain(
    values: pd.Series[Any],
    parse: Parse,
    *,
    factor: float = 1.0,
    most: float = LARGEST,
    decimal: str = ".",
    stated: bool = False,
    numbers: FloatArray | None = None,
) -> tuple[FloatArray, Faults]:
    """Return a column as floats, NaN where blank, with a `UnitError` for each faulty position.

    Parameters
    ----------
    values : pandas.Series
        Text, or numbers.
    parse : callable
        Reads one cell that is not a plain number, or raises `UnitError`.
    factor : float
        Canonical unit per unit of a plain number.
    most : float
        Largest plain number that needs no second look.
    decimal, stated : str, bool
        Decimal mark of the file and whether the workshop states it, as in `impact.marks.settle`.
    numbers : numpy.ndarray, optional
        The cells of a text column that the file keeps as numbers; NaN elsewhere.
    """
    import numpy as np
    import pandas as pd

    result = np.full(len(values), np.nan)
    is_number = np.ones(len(values), dtype=bool)
    marks = Marks()
    if pd.api.types.is_numeric_dtype(values):
        amounts = values.to_numpy(dtype=float, na_value=np.nan)
        least, largest = _extent(amounts)
        if not (least < 0.0 or largest > most or largest * factor > LARGEST):
            return amounts * factor, []
        blank = np.isnan(amounts)
    else:
        is_number = np.zeros(len(values), dtype=bool) if numbers is None else np.isfinite(numbers)
        texts = values.mask(is_number, "") if is_number.any() else values
        marks, plain = settle(texts, decimal, stated=stated)
        amounts = plain_amounts(texts, plain)
        if numbers is not None:
            amounts = np.where(is_number, numbers, amounts)
        blank = values.eq("").to_numpy(dtype=bool)
    with np.errstate(invalid="ignore"):
        regular = (amounts >= 0.0) & (amounts <= most)
        regular &= amounts * factor <= LARGEST
    result[regular] = amounts[regular] * factor
    faults: Faults = []
    for odd, known in (
        (np.flatnonzero(~regular & ~blank & ~is_number), marks),
        (np.flatnonzero(~regular & ~blank & is_number), None),
    ):
        faults += _convert_odd(values, odd, parse, known, result)
    return result, sorted(faults, key=lambda fault: fault[0])


def _extent(amounts: FloatArray) -> tuple[float, float]:
    """Return the least and the largest amount, NaN where there is none."""
    import numpy as np

    return (float(np.fmin.reduce(amounts)), float(np.fmax.reduce(amounts))) if len(amounts) else (np.nan, np.nan)


def _convert_odd(
    values: pd.Series[Any], odd: np.ndarray[Any, Any], parse: Parse, marks: Marks | None, result: FloatArray
) -> Faults:
    """Write the cells at the positions `odd` into `result`; return those that are faulty."""
    import numpy as np
    import pandas as pd

    codes, spellings = pd.factorize(values.iloc[odd])  # so that each spelling is parsed once
    outcomes = [_attempt(parse, str(spelling), marks) for spelling in spellings]
    amounts = np.array([math.nan if isinstance(outcome, UnitError) else outcome for outcome in outcomes], dtype=float)
    result[odd] = amounts[codes]
    faulty = np.flatnonzero(np.isnan(result[odd]))
    faults = [(int(odd[at]), outcomes[codes[at]]) for at in faulty]
    return [(index, fault) for index, fault in faults if isinstance(fault, UnitError)]


def _attempt(parse: Parse, text: str, marks: Marks | None) -> float | UnitError:
    try:
        return parse(text, marks)
    except UnitError as error:
        return UnitError(error.reason, read=text, accepted=error.accepted, code=error.code)


def in_points(text: str, marks: Marks | None) -> str:
    """Return a cell with its numbers written with decimal points; one that is a number is so already."""
    return text if marks is None else normalised(text, marks)


def convert_column(
    values: pd.Series[Any],
    dimension: str,
    header_unit: str | None = None,
    *,
    decimal: str = ".",
    stated: bool = False,
    numbers: FloatArray | None = None,
) -> tuple[FloatArray, Faults]:
    """Return a column of quantities in the canonical unit of `dimension`, NaN where blank.

    Parameters
    ----------
    values : pandas.Series
        Text, or numbers.
    dimension : str
        As in `impact.units.parse_quantity`.
    header_unit : str or None
        Unit of bare numbers; None is the canonical unit.
    decimal, stated, numbers
        As in `convert_plain`.

    Returns
    -------
    numpy.ndarray
        Amounts.
    list of (int, UnitError)
        Position and fault of each cell that is no such quantity.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or of another dimension.
    """
    return convert_plain(
        values,
        lambda text, marks: parse_quantity(in_points(text, marks), dimension, header_unit),
        factor=unit_factor(header_unit or CANONICAL[dimension], dimension),
        decimal=decimal,
        stated=stated,
        numbers=numbers,
    )


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
    known: np.ndarray[Any, np.dtype[np.int8]]
    hours: FloatArray
    faults: Faults

    def at(self, codes: np.ndarray[Any, Any]) -> Energies:
        """Return the column that has these entries at the places that `codes` say."""
        import numpy as np

        if not len(self.kwh):
            return replace(self, kwh=np.full(len(codes), np.nan), known=np.full(len(codes), ESTIMATED, dtype=np.int8))
        faulty = dict(self.faults)
        places = np.flatnonzero(np.isin(codes, list(faulty))).tolist() if faulty else []
        faults = [(place, faulty[int(codes[place])]) for place in places]
        return Energies(self.kwh[codes], self.known[codes], self.hours[codes], faults)


def read_energies(
    values: pd.Series[Any],
    devices: Mapping[str, PowerSource],
    unit: str | None,
    decimal: str,
    stated: bool,
    *,
    numbers: FloatArray | None = None,
) -> Energies:
    """Return a column of energy entries.

    Parameters
    ----------
    values, decimal, stated, numbers
        As of `convert_plain`.
    devices : mapping of str to PowerSource
        Devices of the folder.
    unit : str or None
        Unit of bare numbers; None is kWh.

    Raises
    ------
    UnitError
        The header's unit is unknown, ambiguous or none of energy.
    """
    import numpy as np

    nameplate: set[str] = set()
    hours: dict[str, float] = {}

    def parse(text: str, marks: Marks | None) -> float:
        device = _device_at_start(text, devices)
        energy: Energy = parse_energy(device + in_points(text[len(device) :], marks), devices, unit)
        if energy.evidence == "nameplate":
            nameplate.add(text)
        if energy.hours is not None:
            hours[text] = energy.hours
        return energy.kwh

    factor = unit_factor(unit or CANONICAL["energy"], "energy")
    kwh, faults = convert_plain(values, parse, factor=factor, decimal=decimal, stated=stated, numbers=numbers)
    known = np.where(np.isnan(kwh), ESTIMATED, METERED).astype(np.int8)
    runs = np.full(len(kwh), np.nan)
    if nameplate or hours:
        texts = values.astype(str)
        known[texts.isin(nameplate).to_numpy(dtype=bool)] = NAMEPLATE
        runs = texts.map(hours).to_numpy(dtype=float)
    return Energies(kwh, known, runs, faults)


@lru_cache(maxsize=64)
def _listed_energies(
    texts: tuple[str, ...],
    devices: tuple[tuple[str, PowerSource], ...],
    unit: str | None,
    decimal: str,
    stated: bool,
) -> Energies:
    """Return the entries of a list, which comes again with every block of a file."""
    import pandas as pd

    return read_energies(pd.Series(list(texts), dtype="str"), dict(devices), unit, decimal, stated)


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

    def _plain(
        self, column: Column, parse: Parse, *, factor: float = 1.0, most: float = LARGEST
    ) -> tuple[FloatArray, Faults]:
        decimal, stated = self.table.decimal, self.table.stated
        return self._converted(
            column,
            lambda cells: convert_plain(
                cells, parse, factor=factor, most=most, decimal=decimal, stated=stated, numbers=column.numbers
            ),
        )

    def _converted(
        self, column: Column, convert: Callable[[pd.Series[Any]], tuple[FloatArray, Faults]]
    ) -> tuple[FloatArray, Faults]:
        """Return what `convert` makes of a column, each distinct text converted once, cells at fault as written."""
        import numpy as np
        import pandas as pd

        if not isinstance(column.values.dtype, pd.CategoricalDtype):
            values, faults = convert(column.values)
            return self._converted(column.as_written, convert) if faults and column.written else (values, faults)
        codes = column.values.cat.codes.to_numpy()
        distinct, faults = convert(pd.Series(column.values.cat.categories))
        faulty = dict(faults)
        places = np.flatnonzero(np.isin(codes, list(faulty))) if faulty else ()
        return distinct[codes] if len(distinct) else self._nothing(), [(int(at), faulty[codes[at]]) for at in places]

    def _nothing(self) -> FloatArray:
        import numpy as np

        return np.full(self.size, np.nan)

    def _unit_refused(self, column: Column, accepted: str) -> None:
        message = f"the unit in the header of {column.name} is not understood"
        self.table.report("unit-not-allowed", None, column.header, message, read=column.header, accepted=accepted)

    def quantity(self, name: str, dimension: str) -> FloatArray:
        """Return a column of quantities in canonical units, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self._nothing()
        try:
            values, faults = self._converted(
                column,
                lambda cells: convert_column(
                    cells,
                    dimension,
                    column.unit,
                    decimal=self.table.decimal,
                    stated=self.table.stated,
                    numbers=column.numbers,
                ),
            )
        except UnitError as error:
            self.table.report(
                error.code, None, column.header, error.reason, read=column.header, accepted=error.accepted
            )
            return self._nothing()
        self._report(column, faults)
        return values

    def share(self, name: str) -> FloatArray:
        """Return a column of shares as fractions of 1, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self._nothing()
        percent = column.unit == "%"
        if column.unit not in (None, "%", "1"):
            self._unit_refused(column, f"{column.name} or {column.name} [%]")
        values, faults = self._plain(
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
            return self._nothing()
        if column.unit is not None:
            self._unit_refused(column, column.name)
        values, faults = self._plain(column, lambda text, marks: parse_count(in_points(text, marks)))
        for index in np.flatnonzero(np.isfinite(values) & (values != np.floor(values))):
            read, accepted = str(column.as_written.values.iloc[index]), "a whole number, 0 or more"
            faults.append(
                (int(index), UnitError("this cannot be a fraction", read=read, accepted=accepted, code="not-whole"))
            )
            values[index] = np.nan
        self._report(column, faults)
        return values

    def money(self, name: str, currency: str) -> FloatArray:
        """Return a column of amounts of money in the workshop's currency, NaN where blank or faulty."""
        column = self.columns.get(name)
        if column is None:
            return self._nothing()
        if column.unit is not None and column.unit.casefold() != currency.casefold():
            self._unit_refused(column, f"{column.name}, in {currency or 'the currency of workshop.toml'}")
        values, faults = self._plain(column, lambda text, marks: parse_money(in_points(text, marks), currency))
        self._report(column, faults)
        return values

    def energy(
        self, name: str, devices: Mapping[str, PowerSource] | None
    ) -> tuple[FloatArray, pd.Categorical[Any], FloatArray]:
        """Return a column of energy in kWh, NaN where blank or faulty, how each amount is known, and the hours of the run.

        The hours are NaN where the entry gives no time.

        Unknown devices are not reported where `devices` is None, that is where the list could not be read.
        """
        import numpy as np
        import pandas as pd

        column = self.columns.get(name)
        classes = pd.Index(EVIDENCE)
        blank: pd.Categorical[Any] = pd.Categorical.from_codes(np.full(self.size, ESTIMATED), categories=classes)
        if column is None:
            return self._nothing(), blank, self._nothing()
        try:
            found = self._energies(column, devices or {})
        except UnitError as error:
            self.table.report(
                error.code, None, column.header, error.reason, read=column.header, accepted=error.accepted
            )
            return self._nothing(), blank, self._nothing()
        self._report(
            column, [fault for fault in found.faults if devices is not None or fault[1].code != "unknown-device"]
        )
        kinds: pd.Categorical[Any] = pd.Categorical.from_codes(found.known, categories=classes, validate=False)
        return found.kwh, kinds, found.hours

    def _energies(self, column: Column, devices: Mapping[str, PowerSource]) -> Energies:
        import pandas as pd

        how = (column.unit, self.table.decimal, self.table.stated)
        if isinstance(column.values.dtype, pd.CategoricalDtype):
            listed = _listed_energies(tuple(column.values.cat.categories), tuple(devices.items()), *how)
            return listed.at(column.values.cat.codes.to_numpy())
        found = read_energies(column.values, devices, *how, numbers=column.numbers)
        return self._energies(column.as_written, devices) if found.faults and column.written else found

    def text(self, name: str) -> pd.Series[Any]:
        """Return a column as stripped text, "" where blank."""
        import pandas as pd

        column = self.columns.get(name)
        if column is None:
            return pd.Series([""] * self.size, dtype="str")
        if column.unit is not None:
            self._unit_refused(column, column.name)
        return column.text

    def ids(self, name: str, known: Mapping[str, object] | None, kind: str) -> pd.Series[Any]:
        """Return a column of known ids as written in the tables, "" where blank or unknown, as categories.

        Nothing is reported as unknown where `known` is None, that is where the list could not be read.
        """
        import numpy as np
        import pandas as pd

        texts = self.text(name).astype("category")
        if known is None or not self.size:
            return texts
        names = {fold(one): one for one in known}
        distinct, codes = texts.cat.categories, texts.cat.codes.to_numpy()
        matched = [names.get(fold(text), "") for text in distinct]
        unknown = {code: choices(text, known) for code, text in enumerate(distinct) if text and not matched[code]}
        for index in np.flatnonzero(np.isin(codes, list(unknown))) if unknown else ():
            self.fault(name, int(index), f"unknown-{kind}", f"unknown {kind}", unknown[codes[index]])
        found = sorted(set(matched))
        places = np.array([found.index(one) for one in matched], dtype=np.int32)
        return pd.Series(
            pd.Categorical.from_codes(places[codes], categories=pd.Index(found, dtype="str"), validate=False)
        )

    def fault(self, name: str, index: int, code: str, message: str, accepted: str) -> None:
        """Report one cell of a column that the table has."""
        column = self.columns[name]
        read = str(column.as_written.values.iloc[index])
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
