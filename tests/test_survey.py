from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.csv
import pytest
from pyarrow import compute

from impact.account.blocks import Surveyor, in_order
from impact.account.inventory import BY_PART
from impact.account.scan import Survey, survey
from impact.api import Folder, load
from impact.base.catalogue import Names, read_names
from impact.base.problems import LISTED, ProblemsError
from impact.factors.factorset import FactorSet, read_factors
from impact.records.batches import open_batches
from impact.records.batchtable import BatchTable
from impact.records.demonstration import DEMO
from impact.records.files import reading_settings
from impact.records.selection import Selection
from impact.records.workshop_file import read_workshop
from impact.study import assess
from impact.tables.csv import CsvFile
from impact.tables.fingerprints import fingerprints, repeated
from impact.tables.texts import Written
from tests.documents import close
from tests.folders import BATCHES, NAMES, read_batches, read_valid, swap, triples, write_folder

sys.path.append(str(Path(__file__).parent / "benchmarks"))

from programme import programme_table, write_programme

ALL = Selection()
HEADER = "batch,date,part,corrugated,binder,good parts"
GRAMS = ("corrugated [g]", "newsprint [g]", "office [g]", "boxboard [g]")


@cache
def names() -> Names:
    return read_names()


@cache
def factors() -> FactorSet:
    return read_factors()


def surveyed(folder: Path, size: int | None, *, lanes: int | None = None, wanted: Selection = ALL) -> Survey:
    workshop, _ = read_workshop(folder, names())
    return survey(
        folder, Surveyor(workshop, names(), factors(), reading_settings(folder), wanted), size=size, lanes=lanes
    )


def as_parquet(folder: Path) -> Path:
    """Return a folder whose batches are those of a CSV file, as Parquet."""
    texts = pd.read_csv(folder / "batches.csv", dtype=str, keep_default_na=False)
    texts.to_parquet(folder / "batches.parquet", index=False)
    (folder / "batches.csv").unlink()
    return folder


def demo_copy(folder: Path) -> Path:
    folder.mkdir()
    for name in ("workshop.toml", "parts.csv", "batches.csv", "logo.png"):
        (folder / name).write_bytes((DEMO / name).read_bytes())
    return folder


def same(first: Survey, second: Survey) -> None:
    """Hold two surveys to the same sums, counts and problems."""
    assert first.tally is not None
    assert second.tally is not None
    one, two = first.tally.inventory, second.tally.inventory
    for column in BY_PART:
        assert one.groups[column].tolist() == two.groups[column].tolist()
    assert one.lines == two.lines
    np.testing.assert_allclose(one.amounts, two.amounts, rtol=1e-12)
    assert replace(first.tally, inventory=two, by_month={}) == replace(second.tally, by_month={})
    for month, by_grade in first.tally.by_month.items():
        assert by_grade == pytest.approx(second.tally.by_month[month], rel=1e-12)
    assert first.pressings == pytest.approx(second.pressings, rel=1e-12)
    assert (first.problems, first.doubts, first.unlikely) == (second.problems, second.doubts, second.unlikely)


@pytest.mark.parametrize("rows", [1, 7, 1000])
def test_survey_in_chunks_of_rows_gives_the_same_sums(tmp_path: Path, rows: int) -> None:
    folder = as_parquet(demo_copy(tmp_path / "demo"))
    same(surveyed(folder, rows), surveyed(folder, None))


@pytest.mark.parametrize("size", [1, 700, 20_000])
def test_survey_in_blocks_of_bytes_gives_the_same_sums(tmp_path: Path, size: int) -> None:
    folder = demo_copy(tmp_path / "demo")
    same(surveyed(folder, max(size, 400)), surveyed(folder, None))


def test_survey_of_an_invented_programme_equals_its_table_at_once(tmp_path: Path) -> None:
    folder = write_programme(tmp_path / "many", 3000).parent
    opened = load(folder)
    whole = assess(opened.workshop, read_batches(folder, opened.workshop, names())[0], opened.factors, draws=100)
    chunked = surveyed(folder, 50_000)
    assert chunked.tally is not None
    assert chunked.tally.batches == 3000
    found = replace(opened, survey=chunked).assess(draws=100)
    assert found.net.value == pytest.approx(whole.net.value, rel=1e-12)
    assert found.paper.collected_kg.value == pytest.approx(whole.paper.collected_kg.value, rel=1e-12)
    assert [part.part for part in found.parts] == [part.part for part in whole.parts]


@pytest.mark.parametrize("size", [64, 150, 1000])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
def test_extents_of_a_csv_file_have_its_blocks(tmp_path: Path, size: int, mark: bytes) -> None:
    rows = [f'{place},2026-01-05,pot,{place % 7},"none",{place}\n' for place in range(200)]
    rows[50] = '50,2026-01-05,pot,"' + "1\n" * 400 + '",none,30\n'
    (tmp_path / "batches.csv").write_bytes(mark + (HEADER + "\n" + "".join(rows)).encode())

    def file(extent: tuple[int, int] | None = None) -> CsvFile:
        return CsvFile(
            tmp_path / "batches.csv", accepted="", single=("batch",), repeated=("part",), size=size, extent=extent
        )

    whole = list(file().blocks())
    assert b"".join(whole) == "".join(rows).encode()
    for least in (1, 500, 3000, 10**6):
        extents = file().extents(least)
        assert [block for extent in extents for block in file(extent).blocks()] == whole
        assert all(end - start >= least for start, end in extents[:-1])


@pytest.fixture(scope="module")
def programme(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Folder]:
    """Give 20,000 batches of 500 sites, read in blocks of some 5,000."""
    folder = write_programme(tmp_path_factory.mktemp("programme"), 20_000).parent
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("impact.records.batches.BLOCK", 500_000)
        yield load(folder, keep=False)


@pytest.mark.parametrize("site", ["site 003", "site 250", "site 499"])
def test_assess_a_site_of_many_is_what_a_folder_of_its_batches_alone_gives(
    programme: Folder, tmp_path: Path, site: str
) -> None:
    for name in ("workshop.toml", "parts.csv"):
        (tmp_path / name).write_bytes((programme.path / name).read_bytes())
    header, *lines = (programme.path / "batches.csv").read_text().splitlines(keepends=True)
    own = [line for line in lines if f",{site}," in line]
    (tmp_path / "batches.csv").write_text("".join([header, *own]))
    many, alone = programme.assess(site=site, draws=200), load(tmp_path).assess(draws=200)
    assert many.batches == alone.batches == len(own) > 20
    one, two = ({**found.as_totals(), "warnings": None} for found in (many, alone))
    close(one, two)


def test_survey_of_many_batches_has_the_sums_of_another_library(programme: Folder) -> None:
    # Apache Arrow's sums over the columns of the file
    table = pyarrow.csv.read_csv(programme.path / "batches.csv")
    grams = sum(compute.sum(table[name]).as_py() for name in table.column_names if name in GRAMS)
    tally = programme.survey.tally
    assert tally is not None
    assert tally.inventory.sum_of("mass", "collected") == pytest.approx(grams / 1000.0, rel=1e-12)
    assert tally.inventory.sum_of("count", "good parts") == compute.sum(table["good parts"]).as_py()
    assert tally.inventory.sum_of("making", "water") == pytest.approx(compute.sum(table["water [L]"]).as_py() / 1000.0)


def test_survey_of_csv_and_parquet_give_the_same_sums(tmp_path: Path) -> None:
    csv, parquet = (write_programme(tmp_path / form, 2000, form=form).parent for form in ("csv", "parquet"))
    one, two = surveyed(csv, 40_000).tally, surveyed(parquet, 300).tally
    assert one is not None
    assert two is not None
    assert one.inventory.lines == two.inventory.lines
    np.testing.assert_allclose(one.inventory.amounts, two.inventory.amounts, rtol=1e-12)


def test_survey_with_one_lane_and_with_four_gives_the_same_bits(tmp_path: Path) -> None:
    folder = write_programme(tmp_path / "many", 2000).parent
    one, four = (surveyed(folder, 30_000, lanes=lanes).tally for lanes in (1, 4))
    assert one is not None
    assert four is not None
    assert np.array_equal(one.inventory.amounts, four.inventory.amounts)


def test_survey_narrowed_counts_what_the_narrowed_table_has(tmp_path: Path) -> None:
    folder = write_programme(tmp_path / "many", 2000).parent
    wanted = Selection(part="tool-tray", site="SITE_004", period=(date(2025, 3, 1), date(2026, 6, 30)))
    found = surveyed(folder, 30_000, wanted=wanted)
    frame = wanted.of(BatchTable.of(load(folder).batches))
    assert found.tally is not None
    assert found.tally.batches == len(frame) > 0
    assert sum(found.pressings.values()) > found.tally.inventory.sum_of("count", "good parts")


def small(*rows: str) -> str:
    return "\n".join([HEADER, *rows]) + "\n"


@pytest.mark.parametrize("size", [len(HEADER) + 2, 120, None])
def test_read_batches_faults_keep_their_rows_in_any_block(tmp_path: Path, size: int | None) -> None:
    rows = ["1,2026-01-05,pot,2,none,30", "", "2,2026-01-06,pot,-2,none,30", "3,2026-01-07,pott,2,none,30"]
    rows += ["4,2026-01-08,pot,2,none,2.50", "2,2026-01-09,pot,2,none,30", "6,2026-01-09,pot,nan,none,1"]
    folder = write_folder(tmp_path, batches=small(*rows))
    _, problems = read_batches(folder, read_valid(folder), NAMES, size=size)
    assert triples(problems) == [
        ("batches.csv", 4, "corrugated", "negative-number"),
        ("batches.csv", 5, "part", "unknown-part"),
        ("batches.csv", 6, "good parts", "not-whole"),
        ("batches.csv", 7, "batch", "duplicate-batch"),
        ("batches.csv", 8, "corrugated", "not-finite"),
    ]
    assert [problem.read for problem in problems] == ["-2", "pott", "2.50", "2", "nan"]
    assert "row 4" in problems[3].message


@pytest.mark.parametrize("size", [400, None])
def test_read_batches_quotes_and_line_breaks_stay_whole_in_any_block(tmp_path: Path, size: int | None) -> None:
    header = BATCHES.split("\n")[0]
    row = BATCHES.split("\n")[1]
    noted = [
        row.replace("001", f"{place:03d}").replace('"wet, cold day"', '"two\nlines, ""so"""') for place in range(9)
    ]
    folder = write_folder(tmp_path, batches="\n".join([header, *noted]) + "\n")
    frame, problems = read_batches(folder, read_valid(folder), NAMES, size=size)
    assert problems == []
    assert frame["notes"].tolist() == ['two\nlines, "so"'] * 9
    assert frame["row"].tolist() == list(range(2, 11))


def test_read_batches_stray_quote_is_a_letter(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=swap(BATCHES, '"wet, cold day"', 'a 5" tray'))
    frame, problems = read_batches(folder, read_valid(folder), NAMES)
    assert problems == []
    assert frame["notes"].tolist() == ['a 5" tray', ""]


def test_read_batches_number_cells_with_one_odd_cell_equal_all_text(tmp_path: Path) -> None:
    rows = [f"{place},2026-01-05,pot,{place}.5,none,30" for place in range(1, 6)]
    plain = read_batches(write_folder(tmp_path / "a", batches=small(*rows)), None, NAMES)[0]
    odd = [row.replace(",3.5,", ",3500 g,") for row in rows]
    found = read_batches(write_folder(tmp_path / "b", batches=small(*odd)), None, NAMES)[0]
    pd.testing.assert_frame_equal(found, plain)


def test_survey_lists_the_first_problems_and_counts_the_rest(tmp_path: Path) -> None:
    rows = [f"{place},2026-01-05,pot,2 x,none,30" for place in range(LISTED + 500)]
    folder = write_folder(tmp_path, batches=small(*rows))
    problems = survey(
        folder, Surveyor(read_valid(folder), NAMES, factors(), reading_settings(folder), Selection()), size=50_000
    ).problems
    assert len(problems) == LISTED + 1
    assert sum(problem.count for problem in problems) == LISTED + 500
    assert "500 more" in problems[-1].message


def test_open_batches_of_another_encoding_are_read_at_once(tmp_path: Path) -> None:
    rows = [f"{place},2026-01-05,pot,2,none,30" for place in range(50)]
    folder = write_folder(tmp_path, batches=small(*rows).encode() + "Größe,2026-01-05,pot,2,none,30\n".encode("cp1252"))
    assert open_batches(folder, NAMES, size=300).alone
    frame, problems = read_batches(folder, read_valid(folder), NAMES, size=300)
    assert frame["batch"].iloc[-1] == "Größe"
    assert [problem.code for problem in problems] == ["encoding-assumed"]


@pytest.mark.parametrize("length", [1, 8, 9, 64, 65, 200])
def test_fingerprints_differ_by_one_letter_and_repeat(length: int) -> None:
    texts = ["a" * length, "a" * (length - 1) + "b", "a" * length, ""]
    found = fingerprints(Written.of(texts))
    assert len(found) == 3
    assert found[0] == found[2] != found[1]
    assert found[0] == fingerprints(Written.of(["a" * length, "x" * 300]))[0]
    assert repeated([found[:2], found[2:]]).tolist() == [found[0]]


def test_fingerprints_of_many_names_are_all_different() -> None:
    column = Written(programme_table(20_000)["batch"].combine_chunks())
    assert len(repeated([fingerprints(column)])) == 0


def test_in_order_raises_in_the_place_of_the_thing() -> None:
    def work(thing: int) -> int:
        if thing == 3:
            raise ValueError("three")
        return thing

    outcomes = in_order(work, range(9), lanes=3)
    assert [next(outcomes) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="three"):
        next(outcomes)


def test_assess_with_rows_compares_them_without_the_file(tmp_path: Path) -> None:
    folder = load(with_one_twice(tmp_path))
    (tmp_path / "batches.csv").unlink()
    assert [problem.row for problem in folder.assess(draws=2).warnings if problem.code == "batch-twice"] == [4]


OTHER = BATCHES + BATCHES.splitlines()[1].replace("001", "009", 1) + "\n"


@pytest.mark.parametrize(
    ("left", "code"),
    [(BATCHES, "changing-file"), (OTHER, "changing-file"), (None, "missing-file")],
    ids=["a batch less", "as many", "gone"],
)
def test_assess_without_rows_of_a_file_that_changed_is_refused(tmp_path: Path, left: str | None, code: str) -> None:
    folder = load(with_one_twice(tmp_path), keep=False)
    (tmp_path / "batches.csv").unlink()
    write_folder(tmp_path, batches=left)
    for read_again in (
        lambda: folder.assess(draws=2),
        lambda: folder.assess(draws=2, part="pot"),
        lambda: folder.batches,
    ):
        with pytest.raises(ProblemsError) as refused:
            read_again()
        assert [(problem.file, problem.code) for problem in refused.value.problems] == [("batches.csv", code)]


def with_one_twice(folder: Path) -> Path:
    first = BATCHES.splitlines()[1]
    return write_folder(folder, batches=f"{BATCHES}{first.replace('001', '003', 1)}\n")


def test_load_without_rows_reads_them_when_asked(tmp_path: Path) -> None:
    folder = demo_copy(tmp_path / "demo")
    lean, full = load(folder, keep=False), load(folder)
    assert lean.survey.batches is None
    pd.testing.assert_frame_equal(lean.batches, full.batches)
    results = [one.assess(draws=100, part="tool-tray") for one in (lean, full)]
    assert results[0].net == results[1].net
    assert results[0].warnings == results[1].warnings
