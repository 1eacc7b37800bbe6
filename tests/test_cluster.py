from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import dask
import numpy as np
import pyarrow.parquet
import pytest
from click.testing import CliRunner

from impact.account.blocks import Piece, Pieces, Span, Spread, Surveyor, spans_of
from impact.account.cluster import ClusterError, cluster
from impact.api import Folder, load, read_folder
from impact.base.problems import Problem, errors
from impact.cli.commands import main
from impact.records.files import reading_settings
from tests.folders import BATCHES, NAMES, swap, write_folder

sys.path.append(str(Path(__file__).parent / "benchmarks"))

from programme import write_programme

PATIENT = {f"distributed.comm.timeouts.{name}": "1800s" for name in ("connect", "tcp")}
"""Settings of Dask for a machine that may be busy."""

ROWS = 1500
PART = 300


def in_parts(folder: Path, whole: Path, form: str = "parquet") -> Path:
    """Return a workshop folder with the batches of another one in several files."""
    (folder / "batches").mkdir(parents=True)
    for name in ("workshop.toml", "parts.csv"):
        (folder / name).write_bytes((whole / name).read_bytes())
    if form == "parquet":
        table = pyarrow.parquet.read_table(whole / "batches.parquet")
        for first in range(0, table.num_rows, PART):
            pyarrow.parquet.write_table(table.slice(first, PART), folder / "batches" / f"{first:06d}.parquet")
    else:
        header, *lines = (whole / "batches.csv").read_text().splitlines(keepends=True)
        for first in range(0, len(lines), PART):
            (folder / "batches" / f"{first:06d}.csv").write_text("".join([header, *lines[first : first + PART]]))
    return folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_programme(tmp_path_factory.mktemp("whole"), ROWS, form="parquet").parent


@pytest.fixture(scope="module")
def parts(whole: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = in_parts(tmp_path_factory.mktemp("places") / "parts", whole)
    (folder / "batches" / "_SUCCESS").write_text("")
    return folder


@pytest.fixture(scope="module")
def two() -> Iterator[Spread]:
    with dask.config.set(PATIENT), cluster(workers=2) as spread:
        yield spread


@pytest.fixture(autouse=True)
def _patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for a scheduler as long as a busy machine may need."""
    monkeypatch.setattr("impact.account.cluster.WAIT_S", 1800)


def opened(folder: Path, spread: Spread | None = None) -> Folder:
    found, problems = read_folder(folder, keep=False, spread=spread)
    assert found is not None, problems
    return found


def amounts(folder: Folder) -> np.ndarray:
    assert folder.survey.tally is not None
    return folder.survey.tally.inventory.amounts


def test_totals_of_parts_equal_those_of_one_file(whole: Path, parts: Path) -> None:
    one, several = load(whole, keep=False).assess(draws=100), opened(parts).assess(draws=100)
    assert several.batches == one.batches == ROWS
    assert several.net.value == pytest.approx(one.net.value, rel=1e-12)
    assert several.net.low == pytest.approx(one.net.low, rel=1e-12)
    assert several.paper.kept_from_landfill_kg.value == pytest.approx(one.paper.kept_from_landfill_kg.value, rel=1e-12)


def test_totals_of_parts_as_csv_equal_those_of_parquet(parts: Path, tmp_path: Path) -> None:
    csv = in_parts(tmp_path / "parts", write_programme(tmp_path / "whole", ROWS).parent, "csv")
    np.testing.assert_allclose(amounts(opened(csv)), amounts(opened(parts)), rtol=1e-12)


@pytest.mark.parametrize("site", [None, "site 004"])
def test_totals_of_two_workers_are_those_of_one_process_to_the_last_bit(
    parts: Path, two: Spread, site: str | None
) -> None:
    here, there = (opened(parts, spread).assess(draws=100, site=site) for spread in (None, two))
    assert there.as_totals() == here.as_totals()
    assert there.factors_used == here.factors_used
    assert np.array_equal(there.inventory.amounts, here.inventory.amounts)


def test_totals_of_a_scheduler_that_runs_already_are_the_same(parts: Path, two: Spread) -> None:
    from distributed import get_client

    with cluster(scheduler=get_client().scheduler.address) as spread:
        there = opened(parts, spread)
    assert np.array_equal(amounts(there), amounts(opened(parts, two)))


def test_totals_of_one_small_file_by_workers_compare_the_batches_too(whole: Path, two: Spread) -> None:
    assert opened(whole, two).assess(draws=100).as_totals() == opened(whole).assess(draws=100).as_totals()


def places(problems: list[Problem]) -> list[tuple[str, int | None, str]]:
    return [(problem.file, problem.row, problem.code) for problem in problems]


def faulty(folder: Path) -> Path:
    """Return a folder whose second part has faults, one of them a name of the first part."""
    write_folder(folder)
    (folder / "batches").mkdir()
    (folder / "batches.csv").rename(folder / "batches" / "a.csv")
    (folder / "batches" / "b.csv").write_text(swap(BATCHES, ",pot,", ",pott,"))
    return folder


@pytest.mark.parametrize("spread", [False, True])
def test_read_folder_faults_of_parts_name_their_file(
    tmp_path: Path, spread: bool, request: pytest.FixtureRequest
) -> None:
    two = request.getfixturevalue("two") if spread else None
    folder, problems = read_folder(faulty(tmp_path), keep=False, spread=two)
    assert folder is None
    assert ("batches/b.csv", 2, "unknown-part") in places(problems)
    twice = [problem for problem in problems if problem.code == "duplicate-batch"]
    assert [(problem.file, problem.row) for problem in twice] == [("batches/b.csv", 2), ("batches/b.csv", 3)]
    assert "batches/a.csv, row 2," in twice[0].message


@pytest.mark.parametrize("spread", [False, True])
def test_read_folder_part_that_cannot_be_read_is_one_problem(
    tmp_path: Path, spread: bool, request: pytest.FixtureRequest
) -> None:
    two = request.getfixturevalue("two") if spread else None
    folder = write_folder(tmp_path)
    (folder / "batches").mkdir()
    (folder / "batches.csv").rename(folder / "batches" / "a.csv")
    (folder / "batches" / "b.parquet").write_bytes(b"no table")
    _, problems = read_folder(folder, keep=False, spread=two)
    assert places(errors(problems)) == [("batches/b.parquet", None, "bad-parquet")]
    assert ("batches/a.csv", 2, "mass-balance") in places(problems)  # rows that can be read are doubted beside it


@pytest.mark.parametrize(
    ("name", "content", "expected"),
    [
        ("batches.csv", BATCHES, ("batches.csv and batches/", "two-files")),
        ("batches/log.xlsx", "", ("batches/log.xlsx", "unread-kind")),
        (None, "", ("batches/", "missing-file")),
    ],
)
def test_read_folder_parts_that_cannot_be_right_are_refused(
    tmp_path: Path, name: str | None, content: str, expected: tuple[str, str]
) -> None:
    write_folder(tmp_path)
    (tmp_path / "batches.csv").unlink()
    (tmp_path / "batches").mkdir()
    if name is not None:
        (tmp_path / name).write_text(content)
    _, problems = read_folder(tmp_path, keep=False)
    assert [(problem.file, problem.code) for problem in problems] == [expected]


def test_doubts_batch_kept_twice_in_parts_with_other_columns(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, batches=None)
    (folder / "batches").mkdir()
    for name, grades, paper in (("1", "newsprint", "1"), ("2", "corrugated", "1"), ("3", "newsprint,office", "1,0")):
        header = f"batch,date,part,{grades},binder,good parts\n"
        (folder / "batches" / f"{name}.csv").write_text(f"{header}{name},2026-01-05,pot,{paper},none,20\n")
    found = load(folder, keep=False).assess(draws=2).warnings
    twice = [(problem.file, problem.row, problem.message) for problem in found if problem.code == "batch-twice"]
    assert [(file, row) for file, row, _ in twice] == [("batches/3.csv", 2)]
    assert "batch 1 in batches/1.csv, row 2" in twice[0][2]


@pytest.mark.parametrize(
    "arguments",
    [
        ["report", "--for", "funder", "-o", "r.pdf"], ["explain"], ["export", "-o", "out.xlsx"], ["breakeven", "--part", "tool-tray"],
        ["binders", "--part", "tool-tray"], ["forecast", "--part", "tool-tray", "--sessions", "2", "--people", "2"],
    ],
    ids=lambda arguments: arguments[0],
)  # fmt: skip
def test_command_that_needs_one_file_says_who_reads_parts(
    parts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, [arguments[0], str(parts), *arguments[1:]])
    assert done.exit_code == 1
    assert "`impact totals` and `impact check` alone" in done.stderr
    assert isinstance(done.exception, SystemExit)


def test_spans_of_large_parquet_are_whole_row_groups(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.account.blocks.SPAN_ROWS", 250)
    write_folder(tmp_path)
    (tmp_path / "batches.csv").unlink()
    table = pyarrow.table({"batch": [str(number) for number in range(950)]})
    pyarrow.parquet.write_table(table, tmp_path / "batches.parquet", row_group_size=100)
    spans, problems = spans_of(tmp_path, reading_settings(tmp_path), NAMES)
    assert problems == []
    assert [span.extent for span in spans] == [(0, 2), (2, 4), (4, 6), (6, 8), (8, 10)]


def test_totals_in_spans_of_one_file_are_the_same_with_workers(
    whole: Path, two: Spread, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("workshop.toml", "parts.csv"):
        (tmp_path / name).write_bytes((whole / name).read_bytes())
    table = pyarrow.parquet.read_table(whole / "batches.parquet")
    pyarrow.parquet.write_table(table, tmp_path / "batches.parquet", row_group_size=300)
    monkeypatch.setattr("impact.account.blocks.SPAN_ROWS", 1000)
    here, there = opened(tmp_path), opened(tmp_path, two)
    assert np.array_equal(amounts(there), amounts(here))
    assert there.survey.unlikely == here.survey.unlikely


@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("quoted", [False, True])
def test_totals_in_spans_of_a_large_csv_file_are_those_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mark: str, quoted: bool
) -> None:
    folder = write_programme(tmp_path / "csv", ROWS).parent
    content = (folder / "batches.csv").read_text()
    if quoted:
        content = content.replace("\nP", '\n"P\n').replace(",2025-", '",2025-').replace(",2026-", '",2026-')
    (folder / "batches.csv").write_text(mark + content)
    monkeypatch.setattr("impact.records.batches.BLOCK", 20_000)
    whole = opened(folder)
    monkeypatch.setattr("impact.account.blocks.SPAN_BYTES", 50_000)
    spans, problems = spans_of(folder, reading_settings(folder), NAMES)
    assert problems == []
    assert len(spans) > 3
    apart = opened(folder)
    assert apart.survey.tally is not None
    assert whole.survey.tally is not None
    assert apart.survey.tally.batches == whole.survey.tally.batches == ROWS
    np.testing.assert_allclose(amounts(apart), amounts(whole), rtol=1e-12)
    assert apart.survey.doubts == whole.survey.doubts
    assert apart.assess(draws=100).warnings == whole.assess(draws=100).warnings


def test_read_folder_large_csv_replaced_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_programme(tmp_path / "csv", ROWS).parent
    monkeypatch.setattr("impact.records.batches.BLOCK", 20_000)
    monkeypatch.setattr("impact.account.blocks.SPAN_BYTES", 50_000)
    header, *lines = (folder / "batches.csv").read_text().splitlines(keepends=True)
    times = iter(range(100))
    pieces = Surveyor.pieces

    def changing(self: Surveyor, span: Span, **given: int | None) -> Iterator[Piece]:
        if next(times) == 1:
            (folder / "batches.csv").write_text("".join([header, *lines[: ROWS // 2]]))
        return pieces(self, span, **given)

    monkeypatch.setattr(Surveyor, "pieces", changing)
    found = opened(folder)
    assert found.survey.tally is not None
    assert found.survey.tally.batches == ROWS // 2


def test_cluster_of_a_silent_scheduler_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("impact.account.cluster.WAIT_S", 0.3)
    with pytest.raises(ClusterError, match="does not answer"), cluster(scheduler="tcp://127.0.0.1:9"):
        pass


def test_totals_with_workers_and_a_scheduler_is_wrong_usage(parts: Path) -> None:
    done = CliRunner().invoke(main, ["totals", str(parts), "--workers", "2", "--scheduler", "tcp://127.0.0.1:9"])
    assert done.exit_code == 2


def test_cluster_without_dask_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"pulp-impact\[cluster\]"), cluster(workers=2):
        pass


def test_totals_after_a_worker_was_killed_are_the_same(parts: Path, two: Spread) -> None:
    from distributed import get_client

    killed: list[int] = []

    def kill_one(surveyor: Surveyor, spans: list[Span]) -> Pieces:
        for place, found in enumerate(two(surveyor, spans)):
            if place == 1:
                client = get_client()
                worker = next(iter(client.scheduler_info()["workers"]))
                killed.append(client.run(os.getpid, workers=[worker])[worker])
                os.kill(killed[0], signal.SIGKILL)
            yield found

    here, there = opened(parts), opened(parts, kill_one)
    assert len(killed) == 1
    assert np.array_equal(amounts(there), amounts(here))
    assert there.assess(draws=100).batches == ROWS
