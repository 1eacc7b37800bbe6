"""The sheets `lines` and `headline`: amounts times unit impacts, and the headline figures from them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from openpyxl.utils import get_column_letter

from impact.account import linekinds as names
from impact.account.assessment import OTHER
from impact.account.assumptions import read_texts
from impact.account.inventory import DIVERTED, OWN_REJECTS, STAGES, Inventory, Line
from impact.account.linekinds import Name
from impact.account.lines import avoided_impact, lost_impact, sold_impact, stage_impact
from impact.account.paper import FRESH, Fines, is_settled, makeup_of
from impact.core import Numbers
from impact.core.formula import ATOM, Formula, as_formula
from impact.factors.values import FATES
from impact.findings.net import BOUGHT, COUNTED, OTHER_STORED, SOON, STORED, WHOLE, bought, landfills
from impact.tables.xlsx_out import Live, Shown
from impact.trace.workbook_amounts import Amounts, shown
from impact.trace.workbook_formulas import FIRST, FormulaImpacts

if TYPE_CHECKING:
    from impact.account.results import PartResult
    from impact.study import Study

VIEWS = {STORED: "Q", SOON: "R", OTHER: "S", OTHER_STORED: "T", WHOLE: "U"}
"""Columns of the sheet `lines` with the emission per unit under each other view of landfills, and without fines."""

LINE_HEADER = (
    "account", "activity", "item", "evidence", "unit", "amount", "amount by the program", "difference",
    "kg CO2e per unit", "kg CO2e", "recycling lost, kg CO2e per unit", "share landfill", "share recycling",
    "electricity sold, kg CO2e per unit",
    "fines off kept from landfill, share", "centre of the error of the amount",
    *(f"kg CO2e per unit, {case.replace('_', ' ')}" for case in VIEWS),
)  # fmt: skip
HEADLINE_HEADER = (
    "figure", "live value", "unit", "by the program", "difference", "check", "low, from the draws", "high, from the draws",
    "how it comes about", "name on the sheet results",
)  # fmt: skip
FIGURES = (Path(__file__).with_name("headline.csv"), "name", "label", "unit", "how")
FORMATS = {"kg": "#,##0.0000", "kg CO2e": "#,##0.000000", "share": "0.00%", "parts": "#,##0"}
ACCOUNT, ACTIVITY, ITEM, AMOUNT, UNIT_IMPACT, IMPACT, LOST, LANDFILLED, RECYCLED, SOLD, FINES, CENTRE = "ABCFIJKLMNOP"


class Lines:
    """The inventory lines with their amounts by part and their unit impacts.

    In `inventory`, own rejects are not yet given a make-up.
    """

    def __init__(
        self, results: Study, inventory: Inventory, amounts: Amounts, impacts: FormulaImpacts, fines: Fines
    ) -> None:
        self.results, self.fines = results, fines
        self.raw = inventory
        self.amounts = amounts
        self.impacts = impacts
        self.views = {**landfills(impacts), WHOLE: impacts.under(WHOLE, fines=False)}
        self.parts = [part.part for part in results.parts]
        self.makeups: dict[str, dict[tuple[str, str], Formula]] = {}
        self.fresh: dict[tuple[str, str], list[Line]] = {}
        for line in amounts.of_line:
            kind = FRESH.get(Name(line.account, line.activity))
            if kind is not None:
                self.fresh.setdefault((kind, line.item), []).append(line)
        self.numbers = {name: number for number, name in enumerate(results.workshop.parts, 1)}
        self.lines = shown(results.inventory)
        self.last = FIRST - 1 + len(self.lines)

    def part_letter(self, part: str) -> str:
        """Return the column of the amounts of a part."""
        letter: str = get_column_letter(len(LINE_HEADER) + 1 + self.parts.index(part))
        return letter

    def column(self, letter: str) -> str:
        """Return the range of a column."""
        return f"lines!${letter}${FIRST}:${letter}${self.last}"

    def header(self) -> list[str]:
        """Return the names of the columns."""
        return [*LINE_HEADER, *(f"amount, {part}" for part in self.parts), "kg CO2e per unit, in words"]

    def rows(self) -> list[list[Any]]:
        """Return the rows of the sheet."""
        program = self.results.inventory.by_line()
        first, last = (get_column_letter(len(LINE_HEADER) + place) for place in (1, len(self.parts)))
        found = []
        for row, line in enumerate(self.lines, FIRST):
            unit, lost = self._unit_impact(line), self._per_unit(line, lost_impact(self.impacts, line))
            views = [self._seen(line, case, unit, row) for case in VIEWS]
            sold = self._per_unit(line, sold_impact(self.impacts, line))
            landfilled, recycled, *rest = self._shares(line)
            found.append([
                line.account, line.activity, line.item, line.evidence, line.unit,
                Live(f"SUM({first}{row}:{last}{row})"), program[line], Live(f"F{row}-G{row}"),
                unit, None if unit is None else Live(f"F{row}*I{row}"), lost, landfilled, recycled, sold, *rest,
                *views, *(self._amount(line, part) for part in self.parts), "" if unit is None else unit.words,
            ])  # fmt: skip
        return found

    def _unit_impact(self, line: Line, impacts: FormulaImpacts | None = None) -> Formula | None:
        emission = stage_impact if line.account in STAGES else avoided_impact
        return self._per_unit(line, emission(impacts or self.impacts, line))

    def _seen(self, line: Line, case: str, unit: Formula | None, row: int) -> Formula | Live | None:
        """Return the emission per unit under another view of landfills; that of the column before where it is the same."""
        found = None if unit is None else self._unit_impact(line, self.views[case])
        if found is None or unit is None or found.text != unit.text:
            return found
        return Live(f"{UNIT_IMPACT}{row}")

    def _per_unit(self, line: Line, unit: Numbers | None) -> Formula | None:
        """Return an emission per unit of a line with the centre of the error of its amount."""
        return None if unit is None else as_formula(unit * self.impacts.values.spread(line.activity, line.evidence))

    def _shares(self, line: Line) -> tuple[Any, ...]:
        """Return the shares of paper that would have gone to landfill and recycling, what fines take off, and the centre of its error."""
        if line.account != names.COLLECTED.account or not line.evidence:
            return None, None, None, None
        centre = as_formula(self.impacts.values.spread(line.activity, line.evidence))
        if (line.account, line.activity) != names.COLLECTED:
            return None, None, None, centre
        item = line.item.split("|")
        shares = self.impacts.counterfactual_shares(*item)
        landfilled, recycled = (shares[FATES.index(fate)] for fate in ("landfill", "recycling"))
        off = self.fines.off(self.impacts, *item)[FATES.index("landfill")]
        return as_formula(landfilled), as_formula(recycled), as_formula(off), centre

    def _amount(self, line: Line, part: str) -> Live:
        number = self.numbers[part]
        terms = [self.amounts.of_part(line, number)] if line in self.amounts.of_line else []
        kind = line.activity.split()[0] if line.account == names.END_OF_LIFE else "fibre"
        unknown = names.made_of(line, "fibre", OWN_REJECTS)
        if unknown in self.amounts.of_line:
            if part not in self.makeups:
                self.makeups[part] = self._makeup(part)
            share = self.makeups[part].get((kind, line.item.split("|")[0]))
            if share is not None:
                terms.append(f"{self.amounts.of_part(unknown, number)}*{share.text}")
        return Live("+".join(terms) or "0")

    def _makeup(self, part: str) -> dict[tuple[str, str], Formula]:
        """Return the shares that own rejects take over, as cells; see `impact.account.paper.resolved`."""
        mine = self.raw.groups["part"].where(part)
        shares, told = makeup_of(self.raw, mine)
        number = self.numbers[part] if np.array_equal(told, mine) else None
        sums = {key: "+".join(self.amounts.of_part(line, number) for line in self.fresh.get(key, ())) for key in shares}
        whole = "+".join(sums.values())
        return {
            key: self.impacts.steps.put(
                f"make-up of own rejects, {part}: {key[1]}",
                Formula(f"({sums[key]})/({whole})", "its dry mass in fresh pulp / that of all", share)
                if whole
                else share,
                "kg/kg",
                "as in the fresh pulp of the part, else of the workshop, else mixed paper",
            )
            for key, share in shares.items()
        }


class Headline:
    """The headline figures as formulas beside the program's own, whose rows on the sheet `results` are `places`."""

    def __init__(self, lines: Lines, places: Mapping[str, int]) -> None:
        self.lines = lines
        self.results = lines.results
        self.impacts = lines.impacts
        self.places = places
        self.rows: list[list[Any]] = []
        grant = self.results.grant
        self.counted = ""
        if grant is not None:
            cell = self.impacts.settings.put("share of the grant", grant.share, "share", "workshop.toml, grants")
            self.counted = f"*{cell.text}"
        self._paper()
        self.displaced: list[str] = []
        for part in self.results.parts:
            if part.footprint is not None:
                self._part(part)
        self._account()

    def _add(self, figure: str, formula: str, **of: str) -> str:
        """Add a figure by its name in the table, in which `of` is filled in, and return its cell."""
        name, label, unit, how = (read_texts(*FIGURES)[figure][column].format(**of) for column in FIGURES[1:])
        row, place, shown = FIRST + len(self.rows), self.places[name], FORMATS[unit]
        low, high = (
            Shown(Live(f"results!${letter}${place}"), shown) if f"{name}#" in self.places else None for letter in "CD"
        )
        self.rows.append([
            label, Shown(Live(formula), shown), unit, Shown(Live(f"results!$B${place}"), shown),
            Shown(Live(f"B{row}-D{row}"), "0.0E+00"), Live(f'IF(ABS(E{row})<=1E-9*ABS(D{row})+1E-15,"agrees","differs")'),
            low, high, how, name,
        ])  # fmt: skip
        return f"$B${row}"

    def _sum(self, where: str, *columns: str) -> str:
        """Return the sum of the products of columns over the lines where a condition holds."""
        return f"SUMPRODUCT({'*'.join([f'({where})', *(self.lines.column(letter) for letter in columns)])})"

    def _activity(self, name: Name, *columns: str) -> str:
        return self._sum(f'{self.lines.column(ACTIVITY)}="{name.activity}"', *columns)

    def _accounts(self, names: str | tuple[str, ...], *columns: str) -> str:
        wanted = (names,) if isinstance(names, str) else names
        return self._sum("+".join(f'({self.lines.column(ACCOUNT)}="{name}")' for name in wanted), *columns)

    def _paper(self) -> None:
        counted, paper, add, activity = self.counted, self.results.paper, self._add, self._activity
        weighed = add("paper.weighed_kg", activity(names.COLLECTED, AMOUNT, CENTRE))
        collected = add("paper.collected_kg", weighed + counted)
        gross = add(
            "paper.kept_from_landfill_gross_kg", activity(names.COLLECTED, AMOUNT, CENTRE, LANDFILLED) + counted
        )
        there = f'RIGHT({self.lines.column(ITEM)},9)="|landfill"'
        back = add(
            "paper.returned_to_landfill_kg",
            self._sum(f'({self.lines.column(ACTIVITY)}="{names.RETURNED.activity}")*({there})', AMOUNT, CENTRE)
            + counted,
        )
        add("paper.fines_kg", f"{collected}*{as_formula(self.lines.fines.share(self.impacts)).within(ATOM).text}")
        off = add("paper.fines_off_landfill_kg", activity(names.COLLECTED, AMOUNT, CENTRE, FINES) + counted)
        net = add("paper.kept_from_landfill_kg", f"{gross}-{back}-{off}")
        landfilled = as_formula(self.impacts.end_of_life_shares[FATES.index("landfill")])
        add("paper.deferred_kg", f"MAX({net},0)*{landfilled.text}")
        add("paper.taken_from_recycling_kg", activity(names.COLLECTED, AMOUNT, CENTRE, RECYCLED) + counted)
        if paper.landfill_diversion_rate is not None:
            add("paper.landfill_diversion_rate", f"{net}/{collected}")
        add("paper.put_to_use_kg", activity(names.PUT_TO_USE, AMOUNT, CENTRE) + counted)
        if paper.unaccounted_share is not None:
            flow_in, flow_out = (activity(name, AMOUNT) for name in (names.DRY_IN, names.DRY_OUT))
            add("paper.mass_balance.unaccounted_share", f"1-{flow_out}/{flow_in}")

    def _part(self, part: PartResult) -> None:
        """Add the figures of a part, and what its good parts displaced."""
        name, letter, record = part.part, self.lines.part_letter(part.part), self.impacts.workshop.parts[part.part]
        good = self._add("parts.{part}.good", self._activity(names.GOOD_PARTS, letter), part=name)
        stages = []
        for stage in STAGES:
            each = f"{self._accounts(stage, UNIT_IMPACT, letter)}/{good}"
            words = stage.replace("_", " ")
            stages.append(self._add("parts.{part}.stages_kgco2e.{stage}", each, part=name, stage=stage, words=words))
        footprint = self._add("parts.{part}.footprint_kgco2e", "+".join(stages), part=name)
        credit = f"{self._accounts(STAGES, SOLD, letter)}/{good}"
        self._add("parts.{part}.electricity_sold_kgco2e", credit, part=name)
        if part.plastic is None:
            return
        cell = as_formula(self.impacts.plastic(record)).text
        plastic = self._add("parts.{part}.plastic.footprint_kgco2e", cell, part=name)
        credit = as_formula(self.impacts.plastic_credit(record)).text
        self._add("parts.{part}.plastic.electricity_sold_kgco2e", credit, part=name)
        self._add("parts.{part}.difference_kgco2e", f"{footprint}-{plastic}", part=name)
        if record.displacement is not None:
            self.displaced.append(f"{good}*{as_formula(record.displacement).text}*{plastic}")

    def _uses(self, made: str) -> None:
        """Add what a kilogram of each grade saves; no share of a grant is in it."""
        making = f"{made}/({self._activity(names.COLLECTED, AMOUNT)}{self.counted})"
        for use in self.results.uses_by_grade:
            of_grade = f'(LEFT({self.lines.column(ITEM)},{len(use.grade) + 1})="{use.grade}|")'
            diverted = f'{of_grade}*({self.lines.column(ACCOUNT)}="{DIVERTED}")'
            collected = f'{of_grade}*({self.lines.column(ACTIVITY)}="{names.COLLECTED.activity}")'
            disposed = f"({self._sum(collected, AMOUNT)}-{self._sum(collected, AMOUNT, RECYCLED)})"
            whole, settled = self._sum(diverted, VIEWS[WHOLE], AMOUNT), is_settled(self.results.workshop)
            disposal = "0" if use.disposal_saves is None else f"{whole}/{disposed}"
            per = self._sum(collected, AMOUNT) if settled else disposed
            off = f"({whole}-{self._sum(diverted, IMPACT)})/{per}" if settled or use.disposal_saves else "0"
            again = as_formula(self.impacts.recycling_saves(use.grade)).within(ATOM).text
            self._add("uses_by_grade.{grade}.recycling_saves", f"{disposal}+{again}", grade=use.grade)
            self._add("uses_by_grade.{grade}.pulping_saves", f"{disposal}-{off}-{making}", grade=use.grade)

    def _account(self) -> None:
        counted, add = self.counted, self._add
        made = add("made_kgco2e", self._accounts(STAGES, IMPACT) + counted)
        avoided = add("disposal.avoided_kgco2e", self._accounts(DIVERTED, IMPACT) + counted)
        add("disposal.electricity_sold_kgco2e", self._accounts(DIVERTED, AMOUNT, SOLD) + counted)
        lost = add("disposal.lost_recycling_kgco2e", self._activity(names.COLLECTED, AMOUNT, LOST) + counted)
        displaced = add("displaced_plastic_kgco2e", f"({'+'.join(self.displaced) or '0'}){counted}")
        add("net_kgco2e", f"{made}-{avoided}+{lost}-{displaced}")
        shared = add("net_account.moulds_shared_kgco2e", self._accounts("mould", IMPACT) + counted)
        whole = as_formula(bought(self.results.inventory, self.impacts)).within(ATOM).text
        moulds = add("net_account.moulds_bought_kgco2e", whole + counted)
        sides = {COUNTED: (made, avoided), BOUGHT: (f"{made}-{shared}+{moulds}", avoided)}
        for case in landfills(self.impacts):
            making, elsewhere = (self._accounts(names, VIEWS[case], AMOUNT) + counted for names in (STAGES, DIVERTED))
            sides[case] = (making, elsewhere)
        for case, figure in ((STORED, "stored"), (OTHER_STORED, "other_stored")):
            add(f"net_account.avoided_{figure}_kgco2e", sides[case][1])
        for case, (making, elsewhere) in sides.items():
            words = case.replace("_", " ")
            without = add(
                "net_account.cases.{case}.without_plastic_kgco2e",
                f"{making}-{elsewhere}+{lost}",
                case=case,
                words=words,
            )
            add("net_account.cases.{case}.net_kgco2e", f"{without}-{displaced}", case=case, words=words)
        self._uses(made)
