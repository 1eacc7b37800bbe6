"""The inventory as formulas: one row per batch, one column per line, over the sheet of the records.

The steps and lines of the account are run on the cells of a row. Only ids of the catalogue enter a formula; parts and
moulds, which people name, go by their numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import nan
from typing import TYPE_CHECKING, Any

from openpyxl.utils import get_column_letter

from impact.account.amounts import Arrays
from impact.account.inventory import OWN_REJECTS, Inventory, Line
from impact.account.lines import kind_of
from impact.account.steps import LOSSES, Batch, Otherwise
from impact.core.formula import SUM, Formula, as_formula, total
from impact.records.batchtable import BatchTable
from impact.tables.xlsx_out import ROW, PatternRows
from impact.trace.workbook_formulas import FIRST, PART_COLUMNS, FormulaImpacts

if TYPE_CHECKING:
    import pandas as pd


def cell(text: str, rank: int | None = None) -> Formula:
    """Return a number of which only the spreadsheet knows the value."""
    return Formula(text, "", nan) if rank is None else Formula(text, "", nan, rank)


class Cells:
    """Batches as the cells of a row; `ROW` stands for its number.

    Parameters
    ----------
    frame : DataFrame
        The batches, as on the sheet `records`.
    impacts : FormulaImpacts
        The settings as cells.
    add : callable
        Adds a column under a header, and returns its cell in the same row.
    """

    def __init__(self, frame: pd.DataFrame, impacts: FormulaImpacts, add: Callable[[str, str], str]) -> None:
        parts = impacts.workshop.parts
        self.letters = {name: get_column_letter(place) for place, name in enumerate(frame.columns, 1)}
        self.arrays = Arrays(BatchTable.of(frame), {name: part.mould for name, part in parts.items()})
        self.add = add
        self.moulds = {name: number for number, name in enumerate(impacts.workshop.moulds, 1)}
        self._parts = len(parts)
        names, numbers, moulds = (self._of_parts(letter) for letter in "ABD")
        self.part = add("part no.", f"SUMPRODUCT(EXACT({names},{self._record('part')})*{numbers})")
        self.mould = add("mould no.", f"INDEX({moulds},{self.part})")

    def _of_parts(self, column: str) -> str:
        return f"parts!${column}${FIRST}:${column}${FIRST - 1 + self._parts}"

    def _record(self, column: str) -> str:
        return f"records!${self.letters[column]}{ROW}"

    @property
    def nothing(self) -> Any:
        """0 for every batch."""
        return 0.0

    @property
    def grades(self) -> list[str]:
        """Grades of which some batch has paper, sorted."""
        return sorted(self.arrays.grades)

    def number(self, column: str) -> Any:
        """Return an amount as recorded; a blank cell counts as 0."""
        return cell(self._record(column)) if column in self.letters else 0.0

    def filled(self, column: str, otherwise: Otherwise) -> Any:
        """Return an amount as recorded, something else where it is blank."""
        if callable(otherwise) and not self.arrays.blank(column).any():
            return self.number(column)
        default = as_formula(otherwise() if callable(otherwise) else otherwise)
        if column not in self.letters:
            return default
        return cell(f"IF({self.blank(column).text},{default.text},{self._record(column)})")

    def blank(self, column: str) -> Any:
        """Return the flag that an amount is blank."""
        return cell(f"ISBLANK({self._record(column)})") if column in self.letters else 1.0

    def known(self, column: str) -> Any:
        """Return the flag that an amount is recorded."""
        return 1.0 - self.blank(column)

    def present(self, column: str, *, blank: str | None = None) -> list[str]:
        """Return the texts of a column, sorted, or those of batches whose amount `blank` is not recorded."""
        return self.arrays.present(column, blank=blank)

    def is_any(self, column: str, texts: Sequence[str]) -> Any:
        """Return the flag that a column has one of some texts."""
        return total(self._is(column, text) for text in texts)

    def is_none(self, column: str, texts: Sequence[str]) -> Any:
        """Return the flag that a column has none of some texts."""
        return 1.0 - self.is_any(column, texts)

    def _is(self, column: str, text: str) -> Formula:
        if column == "mould":
            return cell(f"({self.mould}={self.moulds[text]})")
        return cell(f'({self._record(column)}="{text}")')

    def by_text(self, column: str, numbers: Mapping[str, Any]) -> Any:
        """Return the number of the text of a column, 0 for a text without one; of a part its mass."""
        if column == "part":
            return cell(f"INDEX({self._of_parts(PART_COLUMNS['mass_kg'])},{self.part})")
        return total(self._is(column, text) * number for text, number in numbers.items())

    def zero(self, number: Any) -> Any:
        """Return the flag that a number is 0."""
        return cell(f"({as_formula(number).within(SUM).text}=0)")

    def step(self, header: str, number: Any) -> Any:
        """Return a step as the cell of a column of its own; a constant needs none."""
        return cell(self.add(header, number.text)) if isinstance(number, Formula) else number

    def options(self, column: str) -> list[tuple[str | bool, Any]]:
        """Return the ways that batches can go by a column, each with its flag."""
        name = column.removesuffix("?")
        if name != column:
            return [(False, self.blank(name)), (True, self.known(name))]
        return [(text, self._is(column, text)) for text in self.present(column)]


@dataclass(frozen=True, slots=True)
class AmountColumn:
    """One column of the sheet of amounts.

    Attributes
    ----------
    header : str
        What it holds, with its unit.
    pattern : str
        Formula with `ROW` for the row.
    """

    header: str
    pattern: str


class Amounts:
    """Columns of amounts for some batches: the steps on the way, then a line each.

    Parameters
    ----------
    frame : DataFrame
        The batches, as on the sheet `records`.
    inventory : Inventory
        Their lines, parts of nothing but own rejects not yet given a make-up.
    impacts : FormulaImpacts
        The factors and settings as cells.

    Attributes
    ----------
    of_line : dict of Line to str
        The column of each line on which a main figure rests.
    """

    def __init__(self, frame: pd.DataFrame, inventory: Inventory, impacts: FormulaImpacts) -> None:
        self.last = FIRST - 1 + len(frame)
        self.columns: list[AmountColumn] = []
        self.of_line: dict[Line, str] = {}
        letters = {name: get_column_letter(place) for place, name in enumerate(frame.columns, 1)}
        self._add("batch", f"records!${letters['batch']}{ROW}")
        self.cells = Cells(frame, impacts, self._add)
        self.batch = Batch(self.cells, impacts.workshop, impacts.cells.cell)
        lines = [line for line in inventory.lines if kind_of(line).in_headline(line.item)]
        amounts = [as_formula(self._amount(line)).text for line in lines]  # first: their steps come before the lines
        for line, amount in zip(lines, amounts, strict=True):
            header = ", ".join(text for text in (line.account, line.activity, line.item, line.evidence) if text)
            self.of_line[line] = self._add(f"{header} [{line.unit}]", amount).strip(f"${ROW}")

    def _add(self, header: str, pattern: str) -> str:
        """Add a column and return its cell in the same row."""
        self.columns.append(AmountColumn(header, pattern))
        return f"${get_column_letter(len(self.columns))}{ROW}"

    def _amount(self, line: Line) -> Any:
        """Return what a batch brings to a line: its amount, times the flags that send it there."""
        kind, workshop = kind_of(line), self.batch.workshop
        grades = self.cells.grades
        values = {"grade": grades, "fibre": [*grades, OWN_REJECTS], "loss": list(LOSSES)}
        found: Any = 0.0
        for each in product(*(values[name] for name in kind.each)):
            flags: Any = 0.0
            for way in product(*(self.cells.options(column) for column in kind.columns(*each))):
                if kind.line(workshop, *each, *(text for text, _ in way)) == line:
                    here: Any = 1.0
                    for _, flag in way:
                        here = here * flag
                    flags = flags + here
            if isinstance(flags, Formula) or flags:
                found = found + kind.amount(self.batch, *each) * flags
        return found

    # -- the sheet --------------------------------------------------------------------------------------

    def rows(self) -> PatternRows:
        """Return the rows of the sheet, one per batch."""
        return PatternRows([column.pattern for column in self.columns], FIRST, self.last)

    def of_part(self, line: Line, part_number: int | None) -> str:
        """Return the formula of the amount of a line over the batches of a part, or over all batches for None."""
        letter = self.of_line[line]
        amounts = f"amounts!${letter}${FIRST}:${letter}${self.last}"
        if part_number is None:
            return f"SUM({amounts})"
        return f"SUMIF(amounts!$B${FIRST}:$B${self.last},parts!$B${FIRST - 1 + part_number},{amounts})"
