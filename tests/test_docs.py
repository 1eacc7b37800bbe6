"""The written pages keep to the program: examples work, names exist, counts are the tables' own."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from impact.api import read_folder
from impact.base.catalogue import read_names
from impact.cli.commands import main
from impact.factors.factorset import NOT_FACTORS, SHIPPED_WORDS, read_factors
from impact.records.workshop_schema import keys_of

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PAGES = {"README.md": README, "DEVELOPERS.md": GUIDE}
FOLDER_FILES = ("workshop.toml", "parts.csv", "batches.csv", "factors.csv")
IDS = (
    "grades", "excluded_grades", "binders", "polymers", "processes", "mould_materials", "dryers", "climates", "vehicles",
)  # fmt: skip
EVIDENCE = {
    cells[0]: [int(cell) for cell in cells[1:]]
    for cells in re.findall(r"^\| (\S+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", GUIDE, flags=re.MULTILINE)
}

KINDS = {
    cells[0]: [int(cell) for cell in cells[1:]]
    for cells in re.findall(r"^\| (\S+) \| [^|]+ \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", GUIDE, flags=re.MULTILINE)
}


def named_blocks(page: str) -> dict[str, str]:
    """Return the fenced blocks that carry a file name, by that name."""
    return dict(re.findall(r"^```\w+ (\S+)\n(.*?)^```$", page, flags=re.MULTILINE | re.DOTALL))


def write_readme_folder(folder: Path) -> Path:
    folder.mkdir()
    for name, text in named_blocks(README).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def test_readme_first_block_after_the_title_is_prose() -> None:
    title, first = README.split("\n\n")[:2]
    assert re.fullmatch(r"# \S.*", title)
    assert re.match(r"[A-Z]\w+ ", first)
    assert len(first.split()) > 50


@pytest.mark.parametrize("command", sorted(main.commands))
def test_readme_every_command_is_named_with_its_options(command: str) -> None:
    assert f"`impact {command} " in README
    long = {name for option in main.commands[command].params for name in option.opts if name.startswith("--")}
    known = long - {"--output"}  # written as -o
    assert {name for name in known if not re.search(rf"`{name}\b", README)} == set()


@pytest.mark.parametrize("table", sorted(set(keys_of(())) - {"editions"}))  # its keys are places
def test_readme_every_key_of_the_settings_is_named(table: str) -> None:
    assert re.search(rf"`\[+{table}[\].]", README)
    assert {key for key in keys_of((table,)) if f"`{key}`" not in README} == set()


def test_readme_names_no_command_that_is_not_there() -> None:
    assert set(re.findall(r"`impact ([a-z]+)", README)) <= set(main.commands)


def test_readme_no_command_has_two_rows() -> None:
    rows = re.findall(r"^\| `impact ([^`]+)` \|", README, re.MULTILINE)
    assert len(rows) == len(set(rows)) >= len(main.commands)


@pytest.mark.parametrize("field", IDS)
def test_readme_every_id_of_the_catalogue_is_listed(field: str) -> None:
    assert {name for name in getattr(read_names(), field) if f"`{name}`" not in README} == set()


def test_readme_folder_has_no_problem_and_no_warning(tmp_path: Path) -> None:
    assert set(named_blocks(README)) == set(FOLDER_FILES)
    folder, problems = read_folder(write_readme_folder(tmp_path / "workshop"))
    assert problems == []
    assert folder is not None
    assert folder.assess(draws=100).warnings == ()
    assert len(folder.factors.shipped) == 1  # one own value replaces a row, the other adds one


def test_readme_python_block_prints_a_line_for_the_account_and_each_part(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_readme_folder(tmp_path / "my-workshop")
    monkeypatch.chdir(tmp_path)
    (code,) = re.findall(r"^```python\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    exec(code, {})
    account, part = capsys.readouterr().out.splitlines()
    assert len(account.split()) == 3
    assert part.startswith("pencil-tray ")


@pytest.mark.parametrize("page", PAGES)
def test_page_linked_files_exist(page: str) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", PAGES[page])
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_guide_outside_checks_name_test_files_that_exist() -> None:
    named = set(re.findall(r"`(test_\w+)`", GUIDE))
    assert named
    assert [name for name in named if not (ROOT / "tests" / f"{name}.py").is_file()] == []


def test_guide_evidence_table_has_every_factor_table() -> None:
    tables = {path.name for path in (ROOT / "factors").glob("*.csv")} - set(NOT_FACTORS)
    assert EVIDENCE.keys() == tables | {"together"}


@pytest.mark.parametrize("table", EVIDENCE)
def test_guide_evidence_counts_are_those_of_the_tables(table: str) -> None:
    if table == "together":
        counted = [
            sum(column) for column in zip(*(row for name, row in EVIDENCE.items() if name != table), strict=True)
        ]
    else:
        with (ROOT / "factors" / table).open(encoding="utf-8-sig", newline="") as stream:
            words = Counter(row["evidence"] for row in csv.DictReader(stream))
        counted = [words[word] for word in SHIPPED_WORDS]
    assert EVIDENCE[table] == counted


def test_guide_counts_by_kind_are_those_of_the_rows() -> None:
    count = Counter((factor.key.split(".")[0], factor.evidence) for factor in read_factors())
    assert {kind: [count[kind, word] for word in SHIPPED_WORDS] for kind, _ in count} == KINDS
