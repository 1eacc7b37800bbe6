"""The columns of a table read as what they should hold; every fault reported to the table with its place."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np

from impact.base.problems import choices
from impact.base.spellings import fold
from impact.base.units import LARGEST, UnitError, parse_money, parse_number, parse_share, refuse
from impact.core import FloatArray
from impact.records.amounts import Faults, Manner, Parse, convert, in_points, quantities
from impact.records.batchtable import EVIDENCE
from impact.records.energy import ESTIMATED, PowerSource, read_energies
from impact.tables.table import Column, Table
from impact.tables.texts import Coded, Flags, Texts


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
