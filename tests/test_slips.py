"""Slips of the pen in clean records: each is refused, asked or doubted where it stands, with its likely cause; honest
records are left alone. All records are invented; that these slips happen is common practice, no source."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from impact.account import sizes
from impact.account.assessment import values_for
from impact.account.scan import survey
from impact.api import read_folder
from impact.base.catalogue import read_names
from impact.base.problems import Problem, ProblemsError, errors, lines, sentences
from impact.base.slips import UNITS, likely_unit, meant, told, told_span
from impact.factors.factorset import read_factors
from impact.records.demonstration import DEMO
from impact.records.selection import Selection
from tests.edges import EDGES, write
from tests.frames import workshop
from tests.test_cli import run

B, W, P = "batches.csv", "workshop.toml", "parts.csv"
Edit = tuple[str, str | tuple[str, str], str | Callable[[str], str]]
"""A file; a text that stands once in it, or the name of a row (* for all) and its column; and what stands there then."""

FIRST_TOML = """\
[workshop]
name = "First Bench"
country = "GBR"
currency = "GBP"
invented = true
[equipment.blender]
power = "700 W"
[moulds.bowl]
material = "PLA"
mass = "300 g"
printing = "2.5 kWh"
pressings = 200
"""
FIRST_PARTS = """\
part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,equivalence
bowl,bowl,60 g,,2 years,no,PP,injection-moulding,50 g,2 years,measured
"""
FIRST_BATCHES = """\
batch,date,part,corrugated [g],newsprint [g],binder,binder mass [g],water [L],shredding,blending,pressing,drying,good parts,\
rejects,rejects to,trim [g],part mass [g],transport [km],hours,people,cost,confirmed
001,2026-01-10,bowl,500,250,corn-starch,250,12,0,blender 12 min,0,1.4 kWh,11,1,own rejects,20,,0,2,3,4,
"""


def first(folder: Path) -> Path:
    """Write a workshop of one batch."""
    folder.mkdir(parents=True)
    for name, text in ((W, FIRST_TOML), (P, FIRST_PARTS), (B, FIRST_BATCHES)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def demo(folder: Path) -> Path:
    """Copy the demo, which has 80 batches, with a column to confirm."""
    shutil.copytree(DEMO, folder)
    edit(folder, B, ("*", "confirmed"), "")
    return folder


def edit(folder: Path, file: str, place: str | tuple[str, str], new: str | Callable[[str], str]) -> None:
    """Make one edit."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    if isinstance(place, str):
        assert text.count(place) == 1, place
        path.write_text(text.replace(place, str(new)), encoding="utf-8")
        return
    rows = list(csv.DictReader(io.StringIO(text)))
    chosen = [row for row in rows if place[0] in ("*", next(iter(row.values())))]
    assert chosen, place
    for row in chosen:
        row[place[1]] = new(row.get(place[1], "")) if callable(new) else new
    out = io.StringIO()
    writer = csv.DictWriter(out, list(dict.fromkeys(name for row in rows for name in row)), restval="")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(out.getvalue(), encoding="utf-8")


def found_in(folder: Path) -> list[Problem]:
    """Return every problem and doubt, as the command check has them."""
    opened, problems = read_folder(folder, keep=False)
    if opened is None:
        return problems
    try:
        return list(opened.assess(draws=2).warnings)
    except ProblemsError as error:
        return [*problems, *error.problems]


def times(factor: float) -> Callable[[str], str]:
    """Return what multiplies a bare number, and leaves others."""
    return lambda cell: f"{float(cell) * factor:g}" if cell.replace(".", "").isdigit() else cell


NO_DRYING = '[drying]\ndryer = "fan"\nheated_room = true              # counted all year, although the heating rests in summer\nheating = "gas"\n'
ASKED, DOUBTED, REFUSED = "asked", "doubted", "refused"

SLIPS: list[tuple[str, Callable[[Path], Path], Sequence[Edit], str, str, int | None, str]] = [
    # what is told: column, how bad, row, and words of the likely cause
    ("Wh under blending", demo, [(B, ("P013", "blending"), "190")], "blending", ASKED, 14, "Wh, not kWh"),
    ("minutes under pressing", demo, [(B, ("P014", "pressing"), "15")], "pressing", DOUBTED, 15, "a device and 15 min"),
    ("hours under drying", demo, [(B, ("P014", "drying"), "30")], "drying", ASKED, 15, "a device and 30 min or h"),
    ("Wh under drying, no dryer", demo, [(W, NO_DRYING, ""), (B, ("P014", "drying"), "900")], "drying", ASKED, 15, "Wh, not kWh"),
    ("mL under water", demo, [(B, ("P014", "water [L]"), "8000")], "water", DOUBTED, 15, "mL, not L"),
    ("m under transport", demo, [(B, ("P014", "transport [km]"), "3000")], "transport", ASKED, 15, "m, not km"),
    ("mould in kg", demo, [(W, '"640 g"', '"412 kg"')], "moulds.tray.mass", ASKED, 30, "g, not kg"),
    ("printing in Wh", demo, [(W, '"4.1 kWh"', '"3900 kWh"')], "moulds.tray.printing", ASKED, 31, "Wh, not kWh"),
    ("a digit too many of paper", demo, [(B, ("P014", "corrugated [g]"), "6000")], "good parts", ASKED, 15, "a digit too many"),
    ("all corrugated three times", demo, [(B, ("*", "corrugated [g]"), times(3))], "good parts", ASKED, 77, "a digit too many"),
    ("first row a year early", demo, [(B, ("P001", "date"), "2025-01-06")], "date", DOUBTED, 2, "slip in the year"),
    # more of the kind, beside 79 honest batches
    ("L under water as mL", demo, [(B, ("P020", "water [L]"), "7 mL")], "water", DOUBTED, 21, "L, not mL"),
    ("all water in mL", demo, [(B, ("*", "water [L]"), times(1000))], "water", ASKED, 68, "mL, not L"),
    ("L under US gallons", demo, [(B, ("P008", "water [L]"), "5.5 US gal")], "water", DOUBTED, 9, "L, not gallons"),
    ("hours for minutes of a blender", demo, [(B, ("P013", "blending"), "blender 12 h")], "blending", DOUBTED, 14, "minutes, not hours"),
    ("minutes for hours of a fan", demo, [(B, ("P013", "drying"), "fan 46 min")], "drying", DOUBTED, 14, "hours, not minutes"),
    ("MWh under blending", demo, [(B, ("P003", "blending"), "0.05 MWh")], "blending", ASKED, 4, "Wh, not kWh"),
    ("kWh written as Wh", demo, [(B, ("P004", "blending"), "0.04 Wh")], "blending", DOUBTED, 5, "kWh, not Wh"),
    ("Wh under binder preparation", demo, [(B, ("P013", "binder preparation"), "290")], "binder preparation", ASKED, 14, "Wh, not kWh"),
    ("minutes under shredding", demo, [(B, ("P013", "shredding"), "10")], "shredding", DOUBTED, 14, "a device and 10 min"),
    ("Wh under shredding", demo, [(B, ("P013", "shredding"), "27")], "shredding", ASKED, 14, "Wh, not kWh"),
    ("all shredding in Wh", demo, [(B, ("*", "shredding"), lambda cell: "27" if cell not in ("", "0") else cell)], "shredding", ASKED, None, "Wh, not kWh"),
    ("minutes under hours", demo, [(B, ("P005", "hours"), "120")], "hours", DOUBTED, 6, "minutes, not hours"),
    ("people for grams", demo, [(B, ("P006", "people"), "1200")], "people", DOUBTED, 7, "0.5 to 200 people is plausible"),
    ("cents for dollars", demo, [(B, ("P002", "cost"), "303")], "cost", DOUBTED, 3, "middle of the other batches"),
    ("rated power in kW", demo, [(W, '"390 W"', '"390 kW"')], "equipment.blender.power", ASKED, 15, "W, not kW"),
    ("rated power as a decimal of kW", demo, [(W, '"390 W"', '"0.39 W"')], "equipment.blender.power", ASKED, 15, "kW, not W"),
    ("part in kg", demo, [(P, ("tool-tray", "mass"), "62 kg")], "mass", ASKED, 2, "g, not kg"),
    ("part in mg", demo, [(P, ("sorting-cup", "mass"), "14 mg")], "mass", ASKED, 3, "1/4286 of what is usual"),
    ("part of a batch in kg", demo, [(B, ("P004", "part mass [g]"), "14 kg")], "part mass", DOUBTED, 5, "g, not kg"),
    ("the same, out of proportion", demo, [(B, ("P004", "part mass [g]"), "14 kg")], "good parts", REFUSED, 5, "a wrong unit"),
    ("binder in kg", demo, [(B, ("P009", "binder mass [g]"), "30 kg")], "binder mass", DOUBTED, 10, "g, not kg"),
    ("binder a tenth", demo, [(B, ("P009", "binder mass [g]"), "3")], "binder mass", DOUBTED, 10, "1/17.5 of the middle"),
    ("mould in oz", demo, [(W, '"640 g"', '"640 oz"')], "moulds.tray.printing", ASKED, None, "1/27"),
    ("last row a year late", demo, [(B, ("P080", "date"), "2027-09-29")], "date", DOUBTED, 81, "slip in the year"),
    ("paper in kg under g", demo, [(B, ("P018", "office [g]"), "0.295")], "good parts", REFUSED, 19, "wrong unit"),
    ("good parts tenfold", demo, [(B, ("P018", "good parts"), "180")], "good parts", REFUSED, 19, "weighed before they were dry"),
    ("good parts one of ten", demo, [(B, ("P018", "good parts"), "2")], "good parts", ASKED, 19, "not recorded"),
    # the very first batch
    ("first: mL of water", first, [(B, ("001", "water [L]"), "12000")], "water", ASKED, 2, "mL, not L"),
    ("first: Wh of blending", first, [(B, ("001", "blending"), "140")], "blending", ASKED, 2, "Wh, not kWh"),
    ("first: minutes of pressing", first, [(B, ("001", "pressing"), "15")], "pressing", ASKED, 2, "a device and 15 min"),
    ("first: Wh of drying", first, [(B, ("001", "drying"), "1400 kWh")], "drying", ASKED, 2, "Wh, not kWh"),
    ("first: hours of drying", first, [(B, ("001", "drying"), "30")], "drying", ASKED, 2, "a device and 30 min or h"),
    ("first: drying of next to nothing", first, [(B, ("001", "drying"), "1.4 Wh")], "drying", ASKED, 2, "kWh, not Wh"),
    ("first: m of driving", first, [(B, ("001", "transport [km]"), "4000")], "transport", ASKED, 2, "m, not km"),
    ("first: minutes of a session", first, [(B, ("001", "hours"), "120")], "hours", DOUBTED, 2, "minutes, not hours"),
    ("first: a mould of 300 kg", first, [(W, '"300 g"', '"300 kg"')], "moulds.bowl.mass", ASKED, 10, "g, not kg"),
    ("first: printing in Wh", first, [(W, '"2.5 kWh"', '"2500 kWh"')], "moulds.bowl.printing", ASKED, 11, "Wh, not kWh"),
    ("first: a blender of 700 kW", first, [(W, '"700 W"', '"700 kW"')], "equipment.blender.power", ASKED, 7, "W, not kW"),
    ("first: all in kg", first, [(B, "corrugated [g],newsprint [g]", "corrugated [kg],newsprint [kg]"), (B, "binder mass [g]", "binder mass [kg]"),
      (B, "trim [g]", "trim [kg]"), (P, "60 g", "60 kg")], "corrugated", ASKED, 2, "g, not kg"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "edits", "column", "level", "row", "said"), [slip[1:] for slip in SLIPS], ids=[slip[0] for slip in SLIPS])  # fmt: skip
def test_check_finds_a_slip_where_it_stands_with_its_likely_cause(
    tmp_path: Path,
    make: Callable[[Path], Path],
    edits: Sequence[Edit],
    column: str,
    level: str,
    row: int | None,
    said: str,
) -> None:
    folder = make(tmp_path / "workshop")
    for one in edits:
        edit(folder, *one)
    problems = found_in(folder)
    told = [one for one in problems if (one.column or "").split(" [")[0] == column and row in (None, one.row)]
    assert any(said in one.message for one in told), "\n".join(map(str, problems))
    worst = next(one for one in told if said in one.message)
    how = DOUBTED if worst.level == "warning" else ASKED if "if it is right, write" in str(worst.accepted) else REFUSED
    assert how == level, str(worst)


def test_slips_of_the_table_are_many_and_each_stands_once() -> None:
    assert len(SLIPS) >= 45
    assert len({slip[0] for slip in SLIPS}) == len(SLIPS)


# -- the ladder -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("slip", "confirm", "column"),
    [
        ((B, ("P013", "blending"), "190"), (B, ("P013", "confirmed"), "Water; blending"), "blending"),
        ((B, ("P014", "corrugated [g]"), "6000"), (B, ("P014", "confirmed"), "good parts"), "good parts"),
        ((W, '"4.1 kWh"', '"3900 kWh"'), (W, 'units = "metric"', 'units = "metric"\nconfirmed = ["moulds.tray.printing"]'), "moulds.tray.printing"),
    ],
)  # fmt: skip
def test_asked_amount_that_is_confirmed_counts_and_stays_a_warning(
    tmp_path: Path, slip: Edit, confirm: Edit, column: str
) -> None:
    folder = demo(tmp_path / "workshop")
    edit(folder, *slip)
    assert [one.column for one in errors(found_in(folder))] == [column]
    edit(folder, *confirm)
    found = found_in(folder)
    assert errors(found) == []
    assert column in [one.column for one in found]


def test_doubted_amount_that_is_confirmed_is_not_told_again(tmp_path: Path) -> None:
    folder = demo(tmp_path / "workshop")
    edit(folder, B, ("P014", "water [L]"), "8000")
    edit(folder, B, ("P014", "confirmed"), "water")
    assert found_in(folder) == []


def test_confirmed_word_that_is_no_column_is_refused(tmp_path: Path) -> None:
    folder = demo(tmp_path / "workshop")
    edit(folder, B, ("P014", "confirmed"), "yes")
    (found,) = found_in(folder)
    assert (found.row, found.column, found.code) == (15, "confirmed", "unknown-confirmed")


def test_asked_share_of_the_headline_by_hand(tmp_path: Path) -> None:
    """The factor that is told is that of two runs, with the slip and with the middle of the other batches."""
    folder = demo(tmp_path / "workshop")

    def footprint(cell: str) -> float:
        edit(folder, B, ("P013", "blending"), cell)
        edit(folder, B, ("P013", "confirmed"), "blending")
        opened, _ = read_folder(folder)
        assert opened is not None
        part = opened.assess(draws=1).part("tool-tray").footprint
        assert part is not None
        return part.value

    before, after = footprint("0.0812 kWh"), footprint("190 kWh")
    (told,) = [one for one in found_in(folder) if one.column == "blending"]
    factor = float(told.message.split("tool-tray ")[1].split(" times")[0])
    assert factor == pytest.approx(after / before, rel=0.01)


# -- amounts are told, cells are not quoted ---------------------------------------------------------


def test_doubt_by_size_tells_the_paper_of_a_batch_together_and_quotes_no_cell(tmp_path: Path) -> None:
    found = [one for one in found_in(write(EDGES["very-large"], tmp_path)) if one.code == "size-span"]
    assert {(one.read, one.amount, one.column) for one in found} == {
        (None, "15000 kg of paper, all grades together", "corrugated")
    }
    assert "batch 0001: 15000 kg of paper, all grades together, 15000 times what is usual" in found[0].message
    assert found[0].accepted == "about 5 g to 250 kg, all grades together"


def test_doubt_by_size_tells_less_than_a_kilogram_in_grams_and_names_the_column_of_a_part(tmp_path: Path) -> None:
    folder = write(EDGES["very-small"], tmp_path)
    paper, mass = (line for line in lines(found_in(folder)))
    assert 'column "corrugated": row 2, batch 0001: 0.5 g, 1/2000 of what is usual, 1 kg; 5 g to 250 kg is' in paper
    assert 'parts.csv, row 2, column "mass": part caddy: 0.1 g, 1/600 of what is usual, 60 g; 0.5 g to 5 kg is' in mass
    assert "did you mean kg, not g?" in paper
    assert "and is confirmed" in mass
    settings = folder / "workshop.toml"
    settings.write_text(settings.read_text(encoding="utf-8").replace('"parts.caddy.mass", ', ""), encoding="utf-8")
    (asked,) = errors(found_in(folder))
    assert (asked.file, asked.row, asked.column) == ("parts.csv", 2, "mass")
    assert 'write confirmed = ["parts.caddy.mass"] under [workshop]' in str(asked.accepted)


def test_doubt_of_a_mass_of_a_part_explains_its_batches(tmp_path: Path) -> None:
    folder = demo(tmp_path / "workshop")
    edit(folder, P, ("tool-tray", "mass"), "62 kg")
    assert [one.column for one in found_in(folder) if one.code.startswith("size")] == ["mass"]


def test_amounts_that_are_alike_in_a_column_are_named_once_and_others_listed() -> None:
    def line_of(*amounts: str) -> str:
        doubts = [
            Problem("a", B, f"batch: {one}", row=at, column="water", amount=one) for at, one in enumerate(amounts)
        ]
        (line,) = lines(doubts)
        return line.split('column "water": ')[1]

    assert line_of("9 L", "9 L", "9 L") == "batch: 9 L."
    assert line_of("9 L", "8 L", "7 L", "6 L") == "9 L; 8 L; 7 L and 1 other: row 0, batch: 9 L; the others alike."
    assert Problem("a", B, "much", row=2, column="water", amount="9 L").brief == f'{B}, row 2, column "water": 9 L'


@pytest.mark.parametrize(
    ("amount", "ratio", "question"),
    [
        (412.0, 1000.0, ": did you mean g, not kg?"), (0.0005, 0.001, ": did you mean kg, not g?"),
        (0.6, 1000.0, ": did you mean 0.6 g?"), (2.0, 0.001, ": did you mean 2000 kg?"), (15.0, 28.35, ": did you mean g?"),
        (0.5, 28.35, ": did you mean 17.6 g?"), (5.0, 1.0, "."),
    ],
)  # fmt: skip
def test_question_fits_the_unit_in_which_a_mass_is_told(amount: float, ratio: float, question: str) -> None:
    assert meant(amount, ratio, "kg") == question


def test_told_masses_below_a_kilogram_are_in_grams() -> None:
    amounts = (0.0005, 0.9999, 1.0, 15000.0, 0.0)
    assert [told(one, "kg") for one in amounts] == ["0.5 g", "1000 g", "1 kg", "15000 kg", "0 kg"]
    assert told(0.01, "L") == "0.01 L"
    assert [told_span(0.005, 250.0, "kg"), told_span(0.1, 0.2, "kg"), told_span(0.0, 2.0, "kg")] == [
        "5 g to 250 kg",
        "100 to 200 g",
        "0 to 2 kg",
    ]


# -- worst first, and all at once -------------------------------------------------------------------


def test_doubts_stand_beside_the_errors_of_other_rows(tmp_path: Path) -> None:
    folder = demo(tmp_path / "workshop")
    edit(folder, B, ("P020", "water [L]"), "7 mL")
    edit(folder, B, ("P030", "corrugated [g]"), "60000")
    edit(folder, B, ("P040", "good parts"), "x")
    found = {(one.row, one.column, one.level) for one in found_in(folder)}
    assert {(21, "water", "warning"), (31, "good parts", "error"), (41, "good parts", "error")} <= found


def test_problems_that_share_a_line_lead_with_the_worst(tmp_path: Path) -> None:
    folder = demo(tmp_path / "workshop")
    for name, litres in (("P020", "900"), ("P021", "8000"), ("P022", "1500")):
        edit(folder, B, (name, "water [L]"), litres)
    (line,) = [one for one in lines(found_in(folder)) if 'column "water"' in one]
    assert "row 22, batch P021:" in line
    assert "rows 21–23" in line


def test_sentences_put_errors_and_then_the_worst_first() -> None:
    problems = [
        Problem("a", B, "mild", level="warning", times=2.0),
        Problem("b", B, "bad", level="warning", times=90.0),
        Problem("c", B, "no"),
    ]
    assert [one.split(": ")[1] for one in sentences(problems)] == ["no.", "bad.", "mild."]


# -- the report -------------------------------------------------------------------------------------


def test_report_tells_its_doubts_on_the_terminal_and_on_the_first_page(tmp_path: Path) -> None:
    folder, page = demo(tmp_path / "workshop"), tmp_path / "page.html"
    edit(folder, B, ("P014", "water [L]"), "8000")
    edit(folder, B, ("P005", "hours"), "120")
    told = run("report", folder, "-o", page, "--draws", "100").stderr
    assert "2 doubts about the records, the worst: batches.csv, row 15" in told
    assert "did you mean mL, not L?" in told
    text = page.read_text(encoding="utf-8")
    front = text[text.index('id="summary"') : text.index("<nav")]
    assert "2 records or settings are doubted, most of all <code>batches.csv, row 15</code>, column “water" in front
    assert 'href="#doubts"' in front
    assert 'id="doubts"' in text
    run("report", folder, "-o", tmp_path / "strict.html", "--draws", "100", "--strict", status=1)
    assert not (tmp_path / "strict.html").exists()


def test_report_of_the_demo_says_nothing_of_doubts_and_passes_strict(tmp_path: Path) -> None:
    result = run("report", DEMO, "-o", tmp_path / "page.html", "--draws", "100", "--strict", "--grant", "none")
    assert result.stderr == ""
    assert "doubted" not in (tmp_path / "page.html").read_text(encoding="utf-8")


# -- likely units -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "unit", "said"),
    [
        (1000.0, "kWh", "Wh, not kWh"), (60.0, "run", "minutes, not hours"), (3.6, "kWh", "MJ, not kWh"), (1 / 3.6, "kWh", "kWh, not MJ"),
        (2.2046, "kg", "lb, not kg"), (28.35, "kg", "g, not oz"), (1 / 28.35, "kg", "oz, not g"), (453.59, "kg", "g, not lb"),
        (0.001, "L", "L, not mL"), (60.0, "h", "minutes, not hours"), (10.0, "km", ""), (1.0, "kg", ""), (7.0, "people", ""),
    ],
)  # fmt: skip
def test_likely_unit_of_a_ratio(ratio: float, unit: str, said: str) -> None:
    assert likely_unit(ratio, unit) == said


def test_units_are_as_the_handbook_has_them() -> None:
    """NIST Special Publication 811 (2008), appendix B: lb 0.453 592 37 kg, oz 28.349 523 g, US gallon 3.785 412 L, kWh 3.6 MJ."""
    assert UNITS["kg"]["lb, not kg"] == pytest.approx(1 / 0.45359237, rel=1e-3)
    assert UNITS["kg"]["g, not lb"] == pytest.approx(453.59237, rel=1e-3)
    assert UNITS["kg"]["g, not oz"] == pytest.approx(28.349523, rel=1e-3)
    assert UNITS["kg"]["oz, not kg"] == pytest.approx(1000 / 28.349523, rel=1e-3)
    assert UNITS["L"]["L, not gallons"] == pytest.approx(3.785412, rel=1e-3)
    assert UNITS["kWh"]["MJ, not kWh"] == 3.6


def test_spans_hold_what_else_is_published_of_the_same_amounts() -> None:
    """A span that doubted the tables' own interval of an estimate would doubt honest records."""
    shipped = {key: rows[0] for key, rows in read_factors().by_key.items()}
    held = {"plausible.blending": "estimate.blending", "plausible.shredding": "estimate.shredding", "plausible.pressing": "estimate.pressing",
            "plausible.printing": "printing.energy", "plausible.drying": "drying.energy.unrecorded", "plausible.binder-preparation": "binder.preparation.rice-paste"}  # fmt: skip
    for span, key in held.items():
        assert shipped[span].low < shipped[key].low < shipped[key].high < shipped[span].high, span
    water, span = shipped["estimate.water"], shipped["plausible.water"]
    assert span.low < 1000.0 * water.low < 1000.0 * water.high < span.high  # L beside m3


# -- honest records ----------------------------------------------------------------------------------


def honest(seed: int) -> dict[str, str]:
    """Return the files of an invented workshop that made no slip: its sizes, ways and units differ by the seed."""
    rng = np.random.default_rng(seed)
    grams = float((4, 18, 60, 150, 400, 1800)[seed % 6])
    count = (1, 3, 8, 40, 200, 2000)[(seed // 6) % 5 if seed < 28 else 5]
    us, oven = seed % 4 == 3, seed % 3 == 1
    mass: Callable[[float], str] = (lambda g: f"{g / 28.349523:.2f} oz") if us else (lambda g: f"{g:.1f} g")
    litres: Callable[[float], str] = (lambda v: f"{v / 3.785412:.3f} US gal") if us else (lambda v: f"{v:.2f} L")
    device = "oven" if oven else "fan"
    watts = 2400 if oven else int(rng.choice([25, 45, 90]))
    toml = f"""\
[workshop]
name = "Honest {seed}"
country = "{"USA" if us else "FRA"}"
currency = "{"USD" if us else "EUR"}"
units = "{"us" if us else "metric"}"
part_moisture = 0.06
invented = true
[equipment.blender]
power = "{3500 if grams > 100.0 else int(rng.choice([390, 700, 1500]))} W"
[equipment.{device}]
power = "{watts} W"
[drying]
dryer = "{"convection-oven" if oven else "fan"}"
[moulds.form]
material = "PLA"
mass = "{mass(5 * grams + 60)}"
printing = "{6.3 * (5 * grams + 60) / 1000:.2f} kWh"
pressings = 300
"""
    parts = f"""\
part,mould,mass,volume,service life,wet use,plastic polymer,plastic process,plastic mass,plastic service life,equivalence
thing,form,{mass(grams)},,2 years,no,PP,injection-moulding,{mass(0.8 * grams)},2 years,measured
"""
    rows: list[Mapping[str, Any]] = []
    day = np.datetime64("2020-01-06")
    for number in range(count):
        made = int(rng.integers(4, 40)) if grams < 1000 else int(rng.integers(1, 6))
        rejects = int(rng.binomial(made, 0.08)) if number else 0
        out = (made + rejects) * grams * 0.94
        dry = out * rng.uniform(1.0, 1.1)
        starch = rng.uniform(0.07, 0.13) * dry
        water = out / 1000 * (1 / 0.35 - 1 / 0.94)
        day += np.timedelta64(int(rng.integers(1, 4)), "D")
        typed = f"{water * rng.lognormal(0.9, 0.25):.4f} kWh"
        blend = min(dry / 1000 * rng.lognormal(np.log(0.2), 0.35), 1.2 if grams > 100.0 else 0.4)
        rows.append({
            "batch": f"H{number}", "date": str(day), "part": "thing", "corrugated": mass((dry - starch) / 0.92), "moisture": "8 %",
            "binder": "corn-starch", "binder mass": mass(starch / 0.14), "binder solids": "14 %", "water": litres(dry / 1000 * rng.lognormal(np.log(14), 0.35)),
            "shredding": "0" if rng.random() < 0.3 else f"{dry / 1000 * rng.lognormal(np.log(0.05), 0.4):.5f} kWh",
            "blending": f"{blend:.5f} kWh", "pressing": "0", "drying": typed if oven or seed % 2 else f"{device} {rng.uniform(20, 50):.0f} h",
            "good parts": made, "rejects": rejects, "rejects to": "landfill", "trim": "0 g", "part mass": mass(grams * rng.normal(1, 0.01)) if rng.random() < 0.4 else "",
            "transport": rng.choice(["0", "0", "3 km", "8 km", "45 km", ""]), "hours": rng.choice(["2", "2.5", "3", "90 min", "4", ""]),
            "people": rng.choice(["1", "2", "2", "3", "12", "25", ""]), "cost": rng.choice(["", f"{rng.uniform(1, 9):.2f}"]),
        })  # fmt: skip
    log = io.StringIO()
    writer = csv.DictWriter(log, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return {W: toml, P: parts, B: log.getvalue()}


@pytest.mark.parametrize("seed", range(30))
def test_check_of_an_honest_workshop_doubts_nothing(tmp_path: Path, seed: int) -> None:
    for name, text in honest(seed).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert found_in(tmp_path) == []


def test_check_of_a_first_batch_doubts_nothing(tmp_path: Path) -> None:
    assert found_in(first(tmp_path / "workshop")) == []


# -- how sizes are kept ----------------------------------------------------------------------------


def test_sizes_of_blocks_are_those_of_the_whole_and_take_one_byte(tmp_path: Path) -> None:
    """A column that begins in a later block counts as blank before."""
    folder = demo(tmp_path / "workshop")
    edit(folder, B, ("*", "people"), "")
    edit(folder, B, ("P070", "people"), "3")
    opened, _ = read_folder(folder, keep=False)
    assert opened is not None
    whole = opened.survey.beside.sizes
    parts = survey(folder, opened._surveyor(Selection()), size=2000).beside.sizes
    assert whole.keys() == parts.keys()
    assert {codes.dtype for codes in parts.values()} == {np.dtype(np.uint8)}
    assert all(np.array_equal(parts[name], codes) for name, codes in whole.items())
    assert np.flatnonzero(parts["people"]).tolist() == [69]


def test_middle_and_reach_of_the_others_are_those_of_the_logarithms_to_a_step() -> None:
    """Median and median absolute deviation / 0.6745, the robust z-score of Iglewicz and Hoaglin (1993, from memory)."""
    rng = np.random.default_rng(7)
    logs = rng.normal(np.log(12.0), 0.5, 2001)
    logs[0] = np.log(12.0) + 9.0
    values = values_for(workshop(), read_factors(), read_names(), seed=0, draws=1)
    water = next(one for one in sizes.quantities() if one.name == "water")
    codes = sizes._codes(np.exp(logs), values.central(water.key))
    span = sizes._span(water, codes, values)
    middle = np.median(logs)
    reach = 5.0 * np.median(np.abs(logs - middle)) / 0.6745
    assert span.middle is not None
    assert np.log(span.middle) == pytest.approx(middle, abs=0.1)
    assert set(np.flatnonzero(np.abs(logs - middle) > reach + 0.75).tolist()) <= set(
        np.flatnonzero(span.beside[codes]).tolist()
    )
    assert set(np.flatnonzero(span.beside[codes]).tolist()) <= set(
        np.flatnonzero(np.abs(logs - middle) > reach - 0.75).tolist()
    )
