"""A workbook of one run: records, factors, results, and the headline figures as live formulas."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.account.amounts import take_stock
from impact.account.assumptions import read_texts
from impact.account.paper import Fines
from impact.base.figurenames import figures
from impact.records.batchtable import BatchTable
from impact.tables.xlsx_out import Live, Sheet, book_bytes
from impact.trace.workbook_amounts import Amounts, CellFlow
from impact.trace.workbook_formulas import FIRST, FormulaImpacts
from impact.trace.workbook_headline import HEADLINE_HEADER, Headline, Lines

if TYPE_CHECKING:
    from impact.records.workshop import Part
    from impact.study import Study

RECORD_HEADERS = {
    "row": "row in the file", "binder_solids": "binder solids [share]", "moisture": "moisture [share]", "hours": "hours [h]",
    "good_parts": "good parts", "cost": "cost",
}  # fmt: skip
UNITS = {"kg": "kg", "l": "L", "km": "km", "kwh": "kWh", "n": "N", "mm": "mm"}
NONE_WHERE_ZERO = ("paper.", "own_rejects_kg")
FACTOR_HEADER = (
    "id", "what", "value", "low", "high", "unit", "distribution", "geography", "edition", "year", "source", "locator",
    "citation", "evidence",
)  # fmt: skip
PART_HEADER = (
    "part", "part no.", "mould", "mould no.", "mass [kg]", "volume [L]", "service life [year]", "wet use",
    "plastic polymer", "plastic process", "plastic mass [kg]", "plastic service life [year]", "equivalence", "displacement [share]",
    "service life evidence", "plastic service life evidence", "displacement evidence",
)  # fmt: skip
NUMBER_HEADER = ("name", "number", "unit", "formula or value", "origin", "formula in words")
HOLDS = (Path(__file__).with_name("sheets.csv"), "sheet", "holds")
"""Table of the sheets after the first, in their order, and of what each holds."""


def record_header(column: str) -> str:
    """Return the header of a column of the records, with its unit."""
    if column in RECORD_HEADERS:
        return RECORD_HEADERS[column]
    if column.endswith("_kwh_evidence"):
        return f"{column.removesuffix('_kwh_evidence').replace('_', ' ')}, known as"
    name, _, unit = column.removeprefix("paper.").rpartition("_")
    if name and unit in UNITS:
        return f"{name.replace('_', ' ')} [{UNITS[unit]}]"
    return column.replace("_", " ")


def _record_rows(table: BatchTable) -> Iterator[Sequence[Any]]:
    """Yield the batches; blank where nothing was recorded or, for paper, where there was none."""
    columns: list[list[Any]] = []
    for name, column in table.columns.items():
        if name == "date":
            columns.append(table.days.astype(object).tolist())
        else:
            values = column.tolist()
            columns.append([value or None for value in values] if name.startswith(NONE_WHERE_ZERO) else values)
    return zip(*columns, strict=True)


def _part_row(number: int, part: Part, moulds: list[str]) -> list[Any]:
    return [
        part.name, number, part.mould, moulds.index(part.mould) + 1, part.mass_kg, part.volume_l, part.service_life_years,
        "yes" if part.wet_use else "no", part.polymer, part.process, part.plastic_mass_kg, part.plastic_service_life_years,
        part.equivalence, part.displacement, part.life_evidence, part.plastic_life_evidence, part.displacement_evidence,
    ]  # fmt: skip


def _factor_rows(impacts: FormulaImpacts) -> Iterator[Sequence[Any]]:
    sources = impacts.cells.factors.sources
    for factor in impacts.cells.rows.values():
        source = sources.get(factor.source)
        yield (
            factor.id, factor.what, factor.value, factor.low, factor.high, factor.unit, factor.distribution,
            factor.geography, factor.edition, factor.year, factor.source, factor.locator,
            source.citation if source else "", factor.evidence,
        )  # fmt: skip


def result_rows(found: dict[str, float]) -> tuple[list[list[Any]], dict[str, int]]:
    """Return the figures as rows, intervals in one, and the row of each; a name with ``#`` has an interval."""
    rows: list[list[Any]] = []
    places: dict[str, int] = {}
    for name, value in found.items():
        base, _, end = name.rpartition(".")
        if end in ("low", "high") and base in places:
            rows[places[base] - FIRST][2 if end == "low" else 3] = value
            places[f"{base}#"] = places[base]
            continue
        label = base if end == "value" else name
        places[label] = FIRST + len(rows)
        rows.append([label, value, None, None])
    return rows, places


def _about(results: Study, live: int) -> list[list[Any]]:
    settings, workshop = results.settings, results.workshop
    last = FIRST - 1 + live
    check = f'IF(COUNTIF(headline!$F${FIRST}:$F${last},"agrees")={live},"all {live} live figures agree","not all live figures agree")'
    rows: list[list[Any]] = [
        ["what this is", "Landfill diversion and footprint of moulded paper parts: records, factors, results and how they hang together."],
        ["workshop", workshop.name],
        ["data", "INVENTED DATA: nothing here was measured" if workshop.invented else "records of the workshop"],
        ["period", f"{results.start.isoformat()} to {results.end.isoformat()}"],
        ["batches", results.batches],
        ["program", f"pulp-impact {settings.version}"],
        ["seed", settings.seed],
        ["draws", settings.draws],
        ["warming potentials", f"{settings.gwp}, 100 years"],
        ["electricity", settings.electricity],
        ["landfill", f"{settings.landfill_parameters} parameters, {settings.landfill_climate}, {settings.horizon_years:g} years"],
    ]  # fmt: skip
    if results.grant is not None:
        rows.append(["grant", str(results.grant.sentence(results.start, results.end))])
    rows += [[f"sheet {name}", row["holds"]] for name, row in read_texts(*HOLDS).items()]
    rows += [
        ["check", Live(check)],
        ["intervals", "Low and high are 2.5 % and 97.5 % of the draws. They come from the program as values: a spreadsheet does not draw."],
        ["if you change a cell", "Formulas follow a changed record, setting or factor; results, low and high do not, so the check then says differs. What has no column on the sheet amounts is not followed: another binder, fate or evidence class, or a blank where no batch was blank."],
        ["first opening", "Formulas hold no stored results: a program that does not calculate shows them blank. The sheet results has all figures as values."],
        ["limits", "An estimate without critical review; what is assumed and from memory stands in the report and on the sheet factors."],
    ]  # fmt: skip
    rows += [[f"no comparison, {part.part}", part.no_comparison] for part in results.parts if part.no_comparison]
    rows += [[f"assumption {entry.code}", entry.text] for entry in results.assumptions]
    rows += [[f"warning {place}", str(problem)] for place, problem in enumerate(results.warnings, 1)]
    return rows


def sheets(results: Study) -> list[Sheet]:
    """Return the sheets of the workbook of a run, in their order."""
    impacts = FormulaImpacts(results)
    table, parts = results.counted.table, results.workshop.parts
    inventory, _ = take_stock(table, results.workshop, impacts.cells.central)
    amounts = Amounts(table, inventory, impacts)
    impacts.kept = fines = Fines(CellFlow(results.inventory))
    lines = Lines(results, inventory, amounts, impacts, fines)
    line_rows = lines.rows()
    result_table, places = result_rows(figures(results.as_totals()))
    headline = Headline(lines, places)
    moulds = list(results.workshop.moulds)

    def sheet(
        name: str, header: Iterable[str], rows: Iterable[Sequence[Any]], *widths: float, wrapped: str = ""
    ) -> Sheet:
        invented = " INVENTED DATA." if results.workshop.invented else ""
        note = f"This sheet holds {read_texts(*HOLDS)[name]['holds']}.{invented}"
        columns = dict(enumerate(widths, 1))
        return Sheet(name, name.capitalize(), note, list(header), rows, columns, frozenset(map(int, wrapped)))

    about = Sheet(
        "about", f"Workbook of {results.workshop.name}", "Start here. The other sheets are explained below.",
        ["what", "text"], _about(results, len(headline.rows)), {1: 26, 2: 110}, frozenset({2}),
    )  # fmt: skip
    part_rows = [_part_row(number, part, moulds) for number, part in enumerate(parts.values(), 1)]
    return [
        about,
        sheet("headline", HEADLINE_HEADER, headline.rows, 46, 16, 10, 16, 12, 10, 16, 16, 60, 44, wrapped="9"),
        sheet("records", map(record_header, table.columns), _record_rows(table)),
        sheet("parts", PART_HEADER, part_rows, 24),
        sheet("settings", NUMBER_HEADER, impacts.settings.rows, 44, 14, 18, 16, 60, 20),
        sheet("factors", FACTOR_HEADER, _factor_rows(impacts), 40, 50, 12, 12, 12, 22, 14, 12, 12, 10, 24, 50, 60, wrapped="2"),
        replace(sheet("amounts", [header for header, _ in amounts.columns], []), further=amounts.rows()),
        sheet("unit impacts", NUMBER_HEADER, impacts.steps.rows, 50, 14, 22, 16, 50, 90, wrapped="56"),
        sheet("lines", lines.header(), line_rows, 14, 26, 24, 12, 8),
        sheet("results", ["figure", "value", "low", "high"], result_table, 70, 18, 18, 18),
    ]  # fmt: skip


def workbook(results: Study, *, packed: bool = True) -> bytes:
    """Return the workbook of a run as an XLSX file; the same run gives the same bytes.

    Parameters
    ----------
    results : Study
        What `impact.assess` or `Folder.assess` returned.
    packed : bool
        Whether its parts are packed, as a file that stands alone should be.

    Raises
    ------
    TooLongError
        When there are more batches than rows in a sheet.
    """
    return book_bytes(
        sheets(results),
        title=f"Workbook of {results.workshop.name}",
        creator=f"pulp-impact {results.settings.version}",
        day=results.workshop.report_date,
        packed=packed,
    )
