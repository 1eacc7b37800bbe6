"""The columns of a table read as what they should hold; every fault reported to the table with its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property

import numpy as np

from impact.base.catalogue import Names
from impact.base.problems import choices, which_of
from impact.base.spellings import fold
from impact.base.units import ASKED, BARE, LARGEST, UnitError, parse_money, parse_number, parse_share, refuse, unitless
from impact.core import FloatArray
from impact.records.amounts import Faults, Manner, convert, in_points, quantities
from impact.records.batchtable import EVIDENCE
from impact.records.energy import ESTIMATED, read_energies
from impact.records.workshop import Device
from impact.tables.table import Column, Table
from impact.tables.texts import Coded, Codes, Flags, Texts


def _parse_count(text: str) -> float:
    """Return a number of things, which has no unit; a `UnitError` for anything else."""
    value, rest = parse_number(text)
    if rest:
        refuse("bad-number", f'"{rest}" after a number of things', text, "a whole number, 0 or more")
    return value


class Cells:
    """Reads the columns of a table by known name, and reports faults to it; one that it lacks reads as blank."""

    def __init__(self, table: Table, columns: Mapping[str, Column], names: Names | None = None) -> None:
        self.table = table
        self.columns = columns
        self.names = names or Names()
        self.size = len(table.rows)

    @cached_property
    def nothing(self) -> FloatArray:
        """A column in which nothing is recorded; one for all that the table lacks, thus not to be written to."""
        blank = np.full(self.size, np.nan)
        blank.flags.writeable = False
        return blank

    def _header_refused(self, column: Column, code: str, message: str, accepted: str) -> None:
        self.table.report(code, None, column.header, message, read=column.header, accepted=accepted)

    def _unit_refused(self, column: Column, accepted: str) -> None:
        message = f"the unit in the header of {column.name} is not understood"
        self._header_refused(column, "unit-not-allowed", message, accepted)

    def _amounts(self, name: str, read: Callable[[Column], tuple[FloatArray, Faults]]) -> FloatArray:
        """Return a column as `read` does, and report what it finds; the fault of a header makes all of it blank."""
        column = self.columns.get(name)
        if column is None:
            return self.nothing
        try:
            values, faults = read(column)
        except UnitError as error:
            self._header_refused(column, error.code, error.reason, error.accepted)
            return self.nothing
        for index, fault in faults:
            self.table.report(fault.code, index, column.header, fault.reason, read=fault.read, accepted=fault.accepted)
        return values

    def _manner(self, parse: Callable[[str], float], factor: float = 1.0, most: float = LARGEST) -> Manner:
        """Return how cells are read that `parse` knows once their numbers have decimal points."""
        table = self.table
        return Manner(
            lambda text, marks: parse(in_points(text, marks)), factor, most, decimal=table.decimal, stated=table.stated
        )

    def quantity(self, name: str, dimension: str) -> FloatArray:
        """Return a column of quantities in canonical units, NaN where blank or faulty."""
        decimal, stated = self.table.decimal, self.table.stated
        return self._amounts(name, lambda column: quantities(column, dimension, decimal=decimal, stated=stated))

    def with_unit(self, name: str, dimension: str) -> FloatArray:
        """Return a column as `quantity` does; a bare number under a header without a unit is a fault, except 0."""
        values, column = self.quantity(name, dimension), self.columns.get(name)
        if column is None or column.unit is not None:
            return values
        texts = column.text.coded()
        bare = np.isin(texts.codes, [code for code, text in enumerate(texts.names) if BARE.fullmatch(text)])
        bare &= values > 0.0
        for index in np.flatnonzero(bare).tolist():
            error = unitless(texts[index], dimension)
            accepted = f"{error.accepted}; or the unit in the header, as {column.name} [{ASKED[dimension][0]}]"
            self.fault(name, index, error.code, error.reason, accepted)
        return np.where(bare, np.nan, values)

    def share(self, name: str) -> FloatArray:
        """Return a column of shares as fractions of 1, NaN where blank or faulty."""

        def read(column: Column) -> tuple[FloatArray, Faults]:
            percent = column.unit == "%"
            if column.unit not in (None, "%", "1"):
                self._unit_refused(column, f"{column.name} or {column.name} [%]")
            factor, most = (0.01, 100.0) if percent else (1.0, 1.0)
            return convert(column, self._manner(lambda text: parse_share(text, percent=percent), factor, most))

        return self._amounts(name, read)

    def count(self, name: str) -> FloatArray:
        """Return a column of whole numbers, NaN where blank or faulty."""

        def read(column: Column) -> tuple[FloatArray, Faults]:
            if column.unit is not None:
                self._unit_refused(column, column.name)
            values, faults = convert(column, self._manner(_parse_count))
            broken = np.isfinite(values) & (values != np.floor(values))
            for index in np.flatnonzero(broken).tolist():
                read, accepted = str(column.as_written.values[index]), "a whole number, 0 or more"
                error = UnitError("this cannot be a fraction", read=read, accepted=accepted, code="not-whole")
                faults.append((index, error))
            return np.where(broken, np.nan, values) if broken.any() else values, faults

        return self._amounts(name, read)

    def money(self, name: str, currency: str) -> FloatArray:
        """Return a column of amounts of money in the workshop's currency, NaN where blank or faulty."""

        def read(column: Column) -> tuple[FloatArray, Faults]:
            if column.unit is not None and column.unit.casefold() != currency.casefold():
                self._unit_refused(column, f"{column.name}, in {currency or 'the currency of workshop.toml'}")
            return convert(column, self._manner(lambda text: parse_money(text, currency)))

        return self._amounts(name, read)

    def energy(self, name: str, devices: Mapping[str, Device] | None) -> tuple[FloatArray, Coded, FloatArray, Coded]:
        """Return a column of energy in kWh, NaN where blank or faulty, how each is known, hours of the run, and the device.

        The hours are NaN where the entry gives no time, the device is "" where it names none.

        Unknown devices are not reported where `devices` is None, that is where the list could not be read.
        """
        known: Codes = np.full(self.size, ESTIMATED)
        hours, used = self.nothing, Coded.all("", self.size)

        def read(column: Column) -> tuple[FloatArray, Faults]:
            nonlocal known, hours, used
            (kwh, faults), known, hours, used = read_energies(
                column, devices or {}, self.table.decimal, self.table.stated
            )
            return kwh, [one for one in faults if devices is not None or one[1].code != "unknown-device"]

        kwh = self._amounts(name, read)
        return kwh, Coded(EVIDENCE, known), hours, used

    def text(self, name: str) -> Texts:
        """Return a column as stripped text, "" where blank."""
        column = self.columns.get(name)
        if column is None:
            return Coded.all("", self.size)
        if column.unit is not None:
            self._unit_refused(column, column.name)
        return column.text

    def ids(self, name: str, known: Mapping[str, object] | None, kind: str) -> Coded:
        """Return a column of known ids as written in the tables, "" where blank, unknown, or more than one.

        Words for an id of the kind are read as the id. Nothing is reported as unknown where `known` is None, that is where the list could not be read.
        """
        texts = self.text(name).coded()
        if known is None:
            return texts
        names = {fold(one): one for one in known}
        labels = {one: str(label or "") for one, label in known.items()}
        found: dict[str, str] = {}
        told: dict[int, tuple[str, str, str]] = {}
        for code, text in enumerate(texts.names):
            meant = (names[fold(text)],) if fold(text) in names else self.names.meant(kind, text, known)
            found[text] = meant[0] if len(meant) == 1 else ""
            if len(meant) > 1:
                told[code] = f"ambiguous-{kind}", which_of(text, meant, labels), " or ".join(meant)
            elif text and not meant:
                told[code] = f"unknown-{kind}", f"unknown {kind}", choices(text, known)
        for index in np.flatnonzero(np.isin(texts.codes, list(told))) if told else ():
            self.fault(name, int(index), *told[int(texts.codes[index])])
        return texts.renamed(found.__getitem__)

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
