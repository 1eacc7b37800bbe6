"""The inventory as formulas: one row per batch, one column per line, over the sheet of the records."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter

from impact.account.inventory import OWN_REJECTS, SPLIT, Inventory, Line
from impact.core.formula import as_formula
from impact.tables.xlsx_out import ROW, PatternRows
from impact.trace.workbook_formulas import FIRST, FormulaImpacts

if TYPE_CHECKING:
    import pandas as pd

SPENT = ("own rejects", "recycling")
"""Routes of losses that emit nothing in this account."""


@dataclass(frozen=True, slots=True)
class AmountColumn:
    """One column of the sheet of amounts.

    Attributes
    ----------
    header : str
        What it holds, with its unit.
    pattern : str
        Formula with `ROW` for the row.
    line : Line or None
        The line of the inventory; None for a step on the way.
    """

    header: str
    pattern: str
    line: Line | None = None


def record_columns(frame: pd.DataFrame) -> dict[str, str]:
    """Return the letter of each column of the records."""
    return {name: get_column_letter(place) for place, name in enumerate(frame.columns, 1)}


class Amounts:
    """Columns of amounts for some batches.

    Parameters
    ----------
    frame : DataFrame
        The batches, as on the sheet `records`.
    inventory : Inventory
        Their lines, parts of nothing but own rejects not yet given a make-up.
    impacts : FormulaImpacts
        The factors and settings as cells.
    """

    def __init__(self, frame: pd.DataFrame, inventory: Inventory, impacts: FormulaImpacts) -> None:
        self.letters = record_columns(frame)
        self.last = FIRST - 1 + len(frame)
        self.impacts = impacts
        self.workshop = impacts.workshop
        self.columns: list[AmountColumn] = []
        self.of_line: dict[Line, str] = {}
        self.dry: dict[str, str] = {}
        self.moulds = {name: number for number, name in enumerate(self.workshop.moulds, 1)}
        self._steps(inventory)
        for line in inventory.lines:
            pattern = self._pattern(line)
            if pattern is not None:
                header = ", ".join(text for text in (line.account, line.activity, line.item, line.evidence) if text)
                self._add(f"{header} [{line.unit}]", pattern, line)

    # -- patterns ----------------------------------------------------------------------------------

    def _add(self, header: str, pattern: str, line: Line | None = None) -> str:
        """Add a column and return its cell in the same row."""
        self.columns.append(AmountColumn(header, pattern, line))
        letter = get_column_letter(len(self.columns))
        if line is not None:
            self.of_line[line] = letter
        return f"${letter}{ROW}"

    def _record(self, column: str) -> str:
        return f"records!${self.letters[column]}{ROW}"

    def _is(self, column: str, text: str) -> str:
        return f'({self._record(column)}="{text}")'

    def _blank(self, column: str) -> str:
        return f"ISBLANK({self._record(column)})"

    def _known(self, column: str) -> str:
        return f"(1-{self._blank(column)})"

    def _factor(self, key: str) -> str:
        return str(self.impacts.cells.cell(key).text)

    def _or_else(self, column: str, otherwise: str) -> str:
        return f"IF({self._blank(column)},{otherwise},{self._record(column)})"

    def _by_binder(self, binders: list[str], number: Callable[[str], str]) -> str:
        terms = [f"{self._is('binder', binder)}*{number(binder)}" for binder in binders]
        return "+".join(terms) or "0"

    def _solids(self, binder: str) -> str:
        recipe = self.workshop.binders.get(binder)
        if recipe is not None and recipe.solids is not None:
            return as_formula(recipe.solids).text
        return self._factor(f"binder.solids.{binder}")

    @property
    def _part_moisture(self) -> str:
        stated = self.workshop.part_moisture
        return self._factor("part.moisture") if stated is None else as_formula(stated).text

    # -- steps on the way -----------------------------------------------------------------------------

    def _steps(self, inventory: Inventory) -> None:
        """Add the columns that lines are made of: dry matter in and out, losses, shares."""
        numbers, names = self._part_range("B"), self._part_range("A")
        self._add("batch", self._record("batch"))
        self.part = self._add("part no.", f"SUMPRODUCT(EXACT({names},{self._record('part')})*{numbers})")
        self.mould = self._add("mould no.", f"INDEX({self._part_range('D')},{self.part})")
        self._paper_steps(inventory)
        self._binder_steps(inventory)
        self._output_steps()

    def _part_range(self, column: str) -> str:
        return f"parts!${column}${FIRST}:${column}${FIRST - 1 + len(self.workshop.parts)}"

    def _paper_steps(self, inventory: Inventory) -> None:
        grades = sorted({line.item.split("|")[0] for line in inventory.lines if line.activity == "collected"})
        weighed = [self._record(f"paper.{grade}_kg") for grade in grades]
        for grade, mass in zip(grades, weighed, strict=True):
            moisture = self._or_else("moisture", self._factor(f"paper.moisture.{grade}"))
            self.dry[grade] = self._add(f"dry {grade} [kg]", f"{mass}*(1-{moisture})")
        self.weighed = self._add("paper as weighed [kg]", "+".join(weighed) or "0")
        self.dry_fibre = self._add("dry fibre [kg]", "+".join(self.dry.values()) or "0")
        mean = f"IF({self.weighed}>0,1-{self.dry_fibre}/{self.weighed},{self._part_moisture})"
        self.moisture = self._add("mean moisture of the paper [share]", mean)
        own = f"{self._record('own_rejects_kg')}*(1-{self._part_moisture})"
        self.own = self._add("own rejects, dry [kg]", own)
        self.pulped = self._add("pulped, dry [kg]", f"{self.dry_fibre}+{self.own}")

    def _binder_steps(self, inventory: Inventory) -> None:
        binders = sorted(
            {line.item for line in inventory.lines if line.activity == "binder in parts"} | self._binders(inventory)
        )
        none = f"OR({self._is('binder', 'none')},{self._is('binder', '')})"
        default = self._by_binder(binders, self._solids)
        share = self._add("binder solids [kg/kg]", f"IF({none},1,{self._or_else('binder_solids', default)})")
        guessed = [line.item for line in inventory.lines if line.activity == "estimated binder"]
        dose = self._by_binder(guessed, lambda binder: self._factor(f"binder.dose.{binder}"))
        dry = f"IF({self._blank('binder_kg')},({dose})*{self.dry_fibre},{self._record('binder_kg')}*{share})"
        self.solids = share
        self.binder = self._add("dry binder [kg]", f"IF({none},0,{dry})")
        self.binder_used = self._add("binder as used [kg]", f"IF({none},0,{self.binder}/{share})")

    @staticmethod
    def _binders(inventory: Inventory) -> set[str]:
        named = ("dry binder", "binder as used", "estimated binder", "estimated binder preparation")
        return {line.item for line in inventory.lines if line.account == "binder" and line.activity in named}

    def _output_steps(self) -> None:
        dry = f"(1-{self._part_moisture})"
        good = self._record("good_parts")
        listed = f"INDEX({self._part_range('E')},{self.part})"
        mass = self._add("mass of a part [kg]", self._or_else("part_mass_kg", listed))
        rate = self._factor("estimate.reject-rate") if self._any_blank("rejects") else "0"
        rejects = self._or_else("rejects", f"{good}*{rate}/(1-{rate})")
        self.rejects = self._add("rejects [1]", rejects)
        trim = f"{good}*{mass}*{self._factor('estimate.trim')}" if self._any_blank("trim_kg") else "0"
        self.good_dry = self._add("good parts, dry [kg]", f"{good}*{mass}*{dry}")
        self.lost = {
            "rejects": self._add("rejects, dry [kg]", f"{self.rejects}*{mass}*{dry}"),
            "trim": self._add("trim, dry [kg]", f"{self._or_else('trim_kg', trim)}*{dry}"),
        }
        self.dry_in = self._add("dry matter in [kg]", f"{self.pulped}+{self.binder}")
        found = [self.good_dry, *self.lost.values()]
        self.dry_out = self._add("dry matter out [kg]", "+".join(found))
        self.dried = self._add("dried, dry [kg]", f"IF({self.dry_out}>0,{self.dry_out},{self.dry_in})")
        self.fresh = self._add("fresh paper and binder, dry [kg]", f"{self.dry_fibre}+{self.binder}")
        self.losses: dict[tuple[str, str], str] = {}

    def _any_blank(self, column: str) -> bool:
        """Return whether the tables had to fill this column in any batch."""
        key = {"rejects": "estimate.reject-rate", "trim_kg": "estimate.trim"}[column]
        return key in self.impacts.cells.rows

    # -- lines ----------------------------------------------------------------------------------------

    def _pattern(self, line: Line) -> str | None:
        """Return the formula of a line; None for lines that the headline does not need."""
        item, _, route = line.item.partition("|")
        if line.activity in ("fibre in losses", "binder in losses"):
            kind = line.activity.split()[0]
            return None if route in SPENT else f"{self._loss(route, line.evidence)}*{self._share(kind, item)}"
        if line.activity == "returned":
            if route != "landfill":
                return None
            return f"{self._loss(route, '')}*{self._share('fibre', item)}/(1-{self.moisture})"
        if line.activity in ("fibre in parts", "binder in parts"):
            return f"{self.good_dry}*{self._share(line.activity.split()[0], item)}"
        if line.activity == "put to use":
            return f"{self.good_dry}*{self._share('fibre', item)}/(1-{self.moisture})"
        if line.activity in ("collected", "dry paper", "paper as weighed"):
            return self._feed(line.activity, item, route)
        if line.item == "electricity" and line.unit == "kWh":
            return self._electricity(line)
        if line.account == "count":
            return self._count(line.activity)
        return self._amount(line)

    def _feed(self, activity: str, grade: str, route: str) -> str:
        here = self._is("fate", "" if route == SPLIT else route)
        mass = self._record(f"paper.{grade}_kg")
        if activity == "dry paper":
            return f"{self.dry[grade]}*{here}*{self._known('moisture')}"
        return f"{mass}*{here}" + ("" if activity == "collected" else f"*{self._blank('moisture')}")

    def _share(self, kind: str, item: str) -> str:
        if item == OWN_REJECTS:
            return f"({self.fresh}<=0)"
        part = self.dry[item] if kind == "fibre" else f"{self._is('binder', item)}*{self.binder}"
        return f"IF({self.fresh}>0,{part}/{self.fresh},0)"

    def _loss(self, route: str, evidence: str) -> str:
        """Return the cell of what is lost to a route, by evidence class or, for a blank one, in all."""
        if (route, evidence) not in self.losses:
            terms = [f"{dry}*{self._loss_where(loss, route, evidence)}" for loss, dry in self.lost.items()]
            header = f"losses, {route}{', ' if evidence else ''}{evidence}, dry [kg]"
            self.losses[route, evidence] = self._add(header, "+".join(terms))
        return self.losses[route, evidence]

    def _loss_where(self, loss: str, route: str, evidence: str) -> str:
        column = "rejects" if loss == "rejects" else "trim_kg"
        stated, unstated = self._is(f"{loss}_to", route), self._is(f"{loss}_to", "")
        either = f"({stated}+{unstated})" if route == "landfill" else stated
        if evidence == "":
            return either
        if evidence == "estimated":
            return f"{either}*{self._blank(column)}"
        return f"{unstated if evidence == 'assumed' else stated}*{self._known(column)}"

    def _electricity(self, line: Line) -> str:
        column = f"{line.activity.replace(' ', '_')}_kwh"
        amount = f"{self._record(column)}*{self._is(f'{column}_evidence', line.evidence)}"
        if line.account != "binder":
            return amount
        return f"{amount}*(1-{self._is('binder', 'none')})*(1-{self._is('binder', '')})"

    def _count(self, activity: str) -> str | None:
        return {
            "good parts": self._record("good_parts"),
            "dry mass in": self.dry_in,
            "dry mass out": self.dry_out,
        }.get(activity)

    def _amount(self, line: Line) -> str | None:
        here = self._is("binder", line.item)
        mass, solids = self._record("binder_kg"), self._blank("binder_solids")
        recipe = self.workshop.binders.get(line.item)
        sure = "1" if recipe is not None and recipe.solids is not None else f"(1-{solids})"
        mould = self.moulds.get(line.item)
        patterns = {
            "dry binder": f"{mass}*{self.solids}*{here}*{sure}",
            "binder as used": f"{mass}*{here}*{solids}",
            "estimated binder": f"{self.dry_fibre}*{here}*{self._blank('binder_kg')}",
            "estimated binder preparation": f"{self.binder_used}*{here}*{self._blank('binder_preparation_kwh')}",
            "estimated shredding": f"{self.dry_fibre}*{self._blank('shredding_kwh')}",
            "estimated blending": f"{self.pulped}*{self._blank('blending_kwh')}",
            "estimated pressing": f"{self.pulped}*{self._blank('pressing_kwh')}",
            "estimated drying": f"{self.dried}*{self._blank('drying_kwh')}",
            "heat from the room": self.dried,
            "water": f"{self._record('water_l')}/1000",
            "estimated water": f"{self.pulped}*{self._blank('water_l')}",
            "pressings": f"({self._record('good_parts')}+{self.rejects})*({self.mould}={mould})",
            "driving": self._record("transport_km"),
            "estimated driving": f"{self.weighed}*{self._blank('transport_km')}",
        }
        return patterns.get(line.activity)

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
