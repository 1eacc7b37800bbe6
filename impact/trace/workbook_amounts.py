"""The inventory as formulas: one row per batch, one column per line, over the sheet of the records.

The steps and lines of the account are run on the cells of a row. Only ids of the catalogue enter a formula; parts and
moulds, which people name, go by their numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import product
from math import nan
from typing import TYPE_CHECKING, Any

from openpyxl.utils import get_column_letter

from impact.account.inventory import OWN_REJECTS, Inventory, Line
from impact.account.lines import kind_of
from impact.account.steps import LOSSES, Batch, Otherwise, Records
from impact.core.formula import Formula, as_formula, total
from impact.records.batchtable import BatchTable
from impact.tables.xlsx_out import ROW, PatternRows
from impact.trace.workbook_formulas import FIRST, FormulaImpacts

if TYPE_CHECKING:
    from impact.records.workshop import Workshop


def cell(text: str) -> Formula:
    """Return a number of which only the spreadsheet knows the value."""
    return Formula(text, "", nan)


class Cells(Records):
    """Batches as the cells of a row, `ROW` for its number.

    `add` adds a column under a header, and returns its cell in the same row.
    """

    def __init__(self, table: BatchTable, workshop: Workshop, add: Callable[[str, str], str]) -> None:
        super().__init__(table, {name: part.mould for name, part in workshop.parts.items()})
        self.letters = {name: get_column_letter(place) for place, name in enumerate(table.columns, 1)}
        self.add = add
        self.mould_numbers = {name: number for number, name in enumerate(workshop.moulds, 1)}
        last = FIRST - 1 + len(workshop.parts)
        names, numbers, moulds, self.masses = (f"parts!${letter}${FIRST}:${letter}${last}" for letter in "ABDE")
        add("batch", self._record("batch"))
        self.part = add("part no.", f"SUMPRODUCT(EXACT({names},{self._record('part')})*{numbers})")
        self.mould = add("mould no.", f"INDEX({moulds},{self.part})")

    def _record(self, column: str) -> str:
        return f"records!${self.letters[column]}{ROW}"

    @property
    def nothing(self) -> Any:
        """0 for every batch."""
        return 0.0

    def number(self, column: str) -> Any:
        """Return an amount as recorded; a blank cell counts as 0."""
        return cell(self._record(column)) if column in self.letters else 0.0

    def filled(self, column: str, otherwise: Otherwise) -> Any:
        """Return an amount as recorded, something else where it is blank."""
        if callable(otherwise) and not super().blank(column).any():
            return self.number(column)
        default = as_formula(otherwise() if callable(otherwise) else otherwise)
        if column not in self.letters:
            return default
        return cell(f"IF({self.blank(column).text},{default.text},{self._record(column)})")

    def blank(self, column: str) -> Any:
        """Return the flag that an amount is blank."""
        return cell(f"ISBLANK({self._record(column)})") if column in self.letters else 1.0

    def present(self, column: str, *, blank: str | None = None) -> list[str]:
        """Return the texts of a column, sorted, or those of batches whose amount `blank` is not recorded."""
        return self.texts(column).present(None if blank is None else super().blank(blank))

    def is_any(self, column: str, texts: Sequence[str]) -> Any:
        """Return the flag that a column has one of some texts; moulds go by their numbers."""
        if column == "mould":
            return total(cell(f"({self.mould}={self.mould_numbers[text]})") for text in texts)
        return total(cell(f'({self._record(column)}="{text}")') for text in texts)

    def by_text(self, column: str, numbers: Mapping[str, Any]) -> Any:
        """Return the number of the text of a column, 0 for a text without one; of a part its mass."""
        if column == "part":
            return cell(f"INDEX({self.masses},{self.part})")
        return total(self.is_any(column, [text]) * number for text, number in numbers.items())

    def zero(self, number: Any) -> Any:
        """Return the flag that a number is 0."""
        return cell(f"({as_formula(number).text}=0)")

    def step(self, header: str, number: Any) -> Any:
        """Return a step as the cell of a column of its own; a constant needs none."""
        return cell(self.add(header, number.text)) if isinstance(number, Formula) else number

    def options(self, column: str) -> list[tuple[str | bool, Any]]:
        """Return the ways that batches can go by a column, each with its flag."""
        name = column.removesuffix("?")
        if name != column:
            return [(False, self.blank(name)), (True, 1.0 - self.blank(name))]
        return [(text, self.is_any(column, [text])) for text in self.present(column)]


class Amounts:
    """Columns of amounts for some batches: the steps on the way, then a line each.

    In `inventory`, own rejects are not yet given a make-up. `columns` are header, with its unit,
    and formula of each, with `ROW` for the row; `of_line` is the column of each line on which a main figure rests.
    """

    def __init__(self, table: BatchTable, inventory: Inventory, impacts: FormulaImpacts) -> None:
        self.last = FIRST - 1 + len(table)
        self.columns: list[tuple[str, str]] = []
        self.of_line: dict[Line, str] = {}
        self.cells = Cells(table, impacts.workshop, self._add)
        self.batch = Batch(self.cells, impacts.workshop, impacts.cells.cell)
        lines = shown(inventory)
        amounts = [as_formula(self._amount(line)).text for line in lines]  # first: their steps come before the lines
        for line, amount in zip(lines, amounts, strict=True):
            header = ", ".join(text for text in (line.account, line.activity, line.item, line.evidence) if text)
            self.of_line[line] = self._add(f"{header} [{line.unit}]", amount).strip(f"${ROW}")

    def _add(self, header: str, pattern: str) -> str:
        """Add a column and return its cell in the same row."""
        self.columns.append((header, pattern))
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
        return PatternRows([pattern for _, pattern in self.columns], FIRST, self.last)

    def of_part(self, line: Line, part_number: int | None) -> str:
        """Return the formula of the amount of a line over the batches of a part, or over all batches for None."""
        letter = self.of_line[line]
        amounts = f"amounts!${letter}${FIRST}:${letter}${self.last}"
        if part_number is None:
            return f"SUM({amounts})"
        return f"SUMIF(amounts!$B${FIRST}:$B${self.last},parts!$B${FIRST - 1 + part_number},{amounts})"


def shown(inventory: Inventory) -> list[Line]:
    """Return the lines on which a main figure rests, in their order on the sheet `lines`."""
    return [line for line in inventory.lines if kind_of(line).in_headline(line.item)]


class CellFlow(Inventory):
    """The inventory of a run whose amounts are cells of the sheet `lines`, where that has a row for them."""

    def __init__(self, known: Inventory) -> None:
        super().__init__(known.groups, known.lines, known.amounts)
        object.__setattr__(self, "rows", {line: row for row, line in enumerate(shown(known), FIRST)})

    def lines_of(self, account: str, activity: str) -> Iterator[tuple[Line, Any]]:
        """Yield the lines of an activity with their amounts as formulas."""
        rows: dict[Line, int] = self.rows  # type: ignore[attr-defined]
        for line, amount in super().lines_of(account, activity):
            if line in rows:
                words = f"[{line.activity}, {line.item.replace('|', ', ')}]"
                yield line, Formula(f"lines!$F${rows[line]}", words, float(amount))
