"""The sheets `lines` and `headline`: amounts times unit impacts, and the headline figures from them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from openpyxl.utils import get_column_letter

from impact.account import linekinds as names
from impact.account.inventory import DIVERTED, OWN_REJECTS, STAGES, Inventory, Line
from impact.account.linekinds import Name
from impact.account.lines import avoided_impact, kind_of, lost_impact, stage_impact
from impact.account.paper import mean_makeup
from impact.core import Numbers
from impact.core.formula import Formula, as_formula
from impact.factors.values import FATES
from impact.tables.xlsx_out import Live, Shown
from impact.trace.workbook_amounts import Amounts
from impact.trace.workbook_formulas import FIRST, FormulaImpacts

if TYPE_CHECKING:
    from impact.account.results import PartResult
    from impact.study import Study

LINE_HEADER = (
    "account", "activity", "item", "evidence", "unit", "amount", "amount by the program", "difference",
    "kg CO2e per unit", "kg CO2e", "recycling lost, kg CO2e per unit", "share landfill", "share recycling",
)  # fmt: skip
HEADLINE_HEADER = (
    "figure", "live value", "unit", "by the program", "difference", "check", "low, from the draws", "high, from the draws",
    "how it comes about", "name on the sheet results",
)  # fmt: skip
FORMATS = {"kg": "#,##0.0000", "kg CO2e": "#,##0.000000", "share": "0.00%", "parts": "#,##0"}
ACCOUNT, ACTIVITY, AMOUNT, UNIT_IMPACT, IMPACT, LOST, LANDFILLED, RECYCLED = "ABFIJKLM"


class Lines:
    """The inventory lines with their amounts by part and their unit impacts.

    Parameters
    ----------
    results : Study
        The run.
    inventory : Inventory
        Its lines, parts of nothing but own rejects not yet given a make-up.
    amounts : Amounts
        The columns of the sheet `amounts`.
    impacts : FormulaImpacts
        Unit impacts as formulas.
    """

    def __init__(self, results: Study, inventory: Inventory, amounts: Amounts, impacts: FormulaImpacts) -> None:
        self.results = results
        self.raw = inventory
        self.amounts = amounts
        self.impacts = impacts
        self.parts = [part.part for part in results.parts]
        self.numbers = {name: number for number, name in enumerate(results.workshop.parts, 1)}
        self.lines = [
            line
            for line in results.inventory.lines
            if line in amounts.of_line or (line.account in STAGES and kind_of(line).in_headline(line.item))
        ]
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
            landfilled, recycled = self._shares(line)
            found.append([
                line.account, line.activity, line.item, line.evidence, line.unit,
                Live(f"SUM({first}{row}:{last}{row})"), program[line], Live(f"F{row}-G{row}"),
                unit, None if unit is None else Live(f"F{row}*I{row}"), lost, landfilled, recycled,
                *(self._amount(line, part) for part in self.parts), "" if unit is None else unit.words,
            ])  # fmt: skip
        return found

    def _unit_impact(self, line: Line) -> Formula | None:
        emission = stage_impact if line.account in STAGES else avoided_impact
        return self._per_unit(line, emission(self.impacts, line))

    def _per_unit(self, line: Line, unit: Numbers | None) -> Formula | None:
        """Return an emission per unit of a line with the centre of the error of its amount."""
        return None if unit is None else as_formula(unit * self.impacts.values.spread(line.activity, line.evidence))

    def _shares(self, line: Line) -> tuple[Any, Any]:
        if (line.account, line.activity) != names.COLLECTED:
            return None, None
        shares = self.impacts.counterfactual_shares(*line.item.split("|"))
        return as_formula(shares[FATES.index("landfill")]), as_formula(shares[FATES.index("recycling")])

    def _amount(self, line: Line, part: str) -> Live:
        number = self.numbers[part]
        terms = [self.amounts.of_part(line, number)] if line in self.amounts.of_line else []
        unknown = names.made_of(line, "fibre", OWN_REJECTS)
        if line.account == names.END_OF_LIFE and unknown in self.amounts.of_line:
            share = self._makeup(part).get((line.activity.split()[0], line.item.split("|")[0]))
            if share is not None:
                terms.append(f"{self.amounts.of_part(unknown, number)}*{share.text}")
        return Live("+".join(terms) or "0")

    def _makeup(self, part: str) -> dict[tuple[str, str], Formula]:
        """Return the shares that parts of nothing but own rejects take over, as cells; see `impact.account.paper.resolved`."""
        mine = self.raw.groups["part"].where(part)
        number = self.numbers[part] if mean_makeup(self.raw, mine) else None
        rows = mine if number is not None else np.ones(len(mine), dtype=bool)
        shares = mean_makeup(self.raw, rows) or {("fibre", "mixed"): 1.0}
        sums = {key: "+".join(self.amounts.of_part(line, number) for line in self._in_parts(key)) for key in shares}
        whole = "+".join(sums.values())
        return {
            key: self.impacts.steps.put(
                f"make-up of own rejects, {part}: {key[1]}",
                Formula(f"({sums[key]})/({whole})", "its amount in parts / that of all", share) if whole else share,
                "kg/kg",
                "as in the other batches of the part, else of the workshop, else mixed paper",
            )
            for key, share in shares.items()
        }

    def _in_parts(self, key: tuple[str, str]) -> list[Line]:
        kind, item = key
        return [
            line
            for line in self.amounts.of_line
            if (line.account, line.activity, line.item) == (*names.in_parts(kind), item)
        ]


class Headline:
    """The headline figures as formulas beside the program's own.

    Parameters
    ----------
    lines : Lines
        The sheet that they rest on.
    places : mapping of str to int
        Row of each figure on the sheet `results`.
    """

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

    def _add(self, label: str, formula: str, unit: str, name: str, how: str) -> str:
        """Add a figure and return its cell."""
        row = FIRST + len(self.rows)
        place = self.places[name]
        shown = FORMATS[unit]
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
        counted, add = self.counted, self._add
        paper = self.results.paper
        collected = add(
            "paper collected", self._activity(names.COLLECTED, AMOUNT) + counted, "kg", "paper.collected_kg",
            "all paper of the records as weighed, own rejects apart",
        )  # fmt: skip
        gross = add(
            "kept from landfill, gross", self._activity(names.COLLECTED, AMOUNT, LANDFILLED) + counted, "kg",
            "paper.kept_from_landfill_gross_kg", "paper × share that would have gone to landfill",
        )  # fmt: skip
        back = add(
            "returned to landfill", self._activity(names.RETURNED, AMOUNT) + counted, "kg", "paper.returned_to_landfill_kg",
            "fibre of the rejects and trim sent there, as weighed",
        )  # fmt: skip
        net = add(
            "kept from landfill, net", f"{gross}-{back}", "kg", "paper.kept_from_landfill_kg", "gross less returned"
        )
        landfilled = as_formula(self.impacts.end_of_life_shares[FATES.index("landfill")])
        how = "net × share of finished parts that goes to landfill in the end; it is put off, not avoided"
        add("deferred", f"MAX({net},0)*{landfilled.text}", "kg", "paper.deferred_kg", how)
        add(
            "taken from recycling", self._activity(names.COLLECTED, AMOUNT, RECYCLED) + counted, "kg",
            "paper.taken_from_recycling_kg", "paper × share that would have been recycled; no diversion is claimed for it",
        )  # fmt: skip
        if paper.landfill_diversion_rate is not None:
            add("diversion rate", f"{net}/{collected}", "share", "paper.landfill_diversion_rate", "net / collected")
        how = "fibre in good parts, as weighed"
        add("put to use", self._activity(names.PUT_TO_USE, AMOUNT) + counted, "kg", "paper.put_to_use_kg", how)
        if paper.unaccounted_share is not None:
            flow_in, flow_out = (self._activity(name, AMOUNT) for name in (names.DRY_IN, names.DRY_OUT))
            name = "paper.mass_balance.unaccounted_share"
            add(
                "mass balance, not found again", f"1-{flow_out}/{flow_in}", "share", name, "(dry in − dry out) / dry in"
            )

    def _part(self, part: PartResult) -> None:
        """Add the figures of a part, and what its good parts displaced."""
        name, letter = f"parts.{part.part}", self.lines.part_letter(part.part)
        good = self._add(
            f"{part.part}: good parts", self._activity(names.GOOD_PARTS, letter), "parts", f"{name}.good", "as counted"
        )
        stages = [
            self._add(
                f"{part.part}: {stage.replace('_', ' ')}, per good part",
                f"{self._accounts(stage, UNIT_IMPACT, letter)}/{good}", "kg CO2e", f"{name}.stages_kgco2e.{stage}",
                "Σ amount of the part × kg CO2e per unit, over the lines of the stage, / good parts",
            )
            for stage in STAGES
        ]  # fmt: skip
        footprint = self._add(
            f"{part.part}: footprint per good part", "+".join(stages), "kg CO2e", f"{name}.footprint_kgco2e", "Σ stages"
        )
        if part.plastic is None:
            return
        record = self.impacts.workshop.parts[part.part]
        cell = as_formula(self.impacts.plastic(record)).text
        plastic = self._add(
            f"{part.part}: plastic part, over the life of one part", cell, "kg CO2e",
            f"{name}.plastic.footprint_kgco2e", "last step of the plastic part on the sheet unit impacts",
        )  # fmt: skip
        how = "moulded less plastic; below 0 the moulded part is the lower"
        self._add(f"{part.part}: difference", f"{footprint}-{plastic}", "kg CO2e", f"{name}.difference_kgco2e", how)
        if record.displacement is not None:
            self.displaced.append(f"{good}*{as_formula(record.displacement).text}*{plastic}")

    def _account(self) -> None:
        counted, add = self.counted, self._add
        how = "Σ amount × kg CO2e per unit, over the lines of all stages"
        made = add("parts made", self._accounts(STAGES, IMPACT) + counted, "kg CO2e", "made_kgco2e", how)
        how = "Σ amount × kg CO2e per unit, over the lines of diverted paper"
        avoided = add(
            "disposal avoided", self._accounts(DIVERTED, IMPACT) + counted, "kg CO2e", "disposal.avoided_kgco2e", how
        )
        lost = add(
            "recycling lost", self._accounts(DIVERTED, AMOUNT, LOST) + counted, "kg CO2e",
            "disposal.lost_recycling_kgco2e", "Σ amount × recycling lost per unit, over the lines of diverted paper",
        )  # fmt: skip
        how = "Σ good parts × share that took a plastic part's place × plastic part"
        formula = f"({'+'.join(self.displaced) or '0'}){counted}"
        displaced = add("plastic displaced", formula, "kg CO2e", "displaced_plastic_kgco2e", how)
        how = "made − avoided + recycling lost − plastic displaced; below 0: less emission than without the workshop"
        add("net", f"{made}-{avoided}+{lost}-{displaced}", "kg CO2e", "net_kgco2e", how)
