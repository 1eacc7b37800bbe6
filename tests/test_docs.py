"""The written pages keep to the program: examples work, names exist, every command, topic and room has its row."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from impact.api import read_folder
from impact.cli.commands import main
from impact.cli.help import GENERATED
from tests.test_rooms import FILES, ROOMS, room_of

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PAGES = {"README.md": (README, 19_400), "DEVELOPERS.md": (GUIDE, 15_000)}
TOPICS = {path.stem: path.read_text(encoding="utf-8") for path in (ROOT / "impact" / "helptexts").glob("*.txt")}
FOLDER_FILES = ("workshop.toml", "parts.csv", "batches.csv", "factors.csv")
COMMANDS = {
    name: command
    for group, commands in (("", main.commands), ("factors ", main.commands["factors"].commands))  # type: ignore[attr-defined]
    for name, command in ((group + name, command) for name, command in commands.items())
    if not isinstance(command, click.Group)
}


def write_example(folder: Path) -> Path:
    """Write the files of the topic `example` to a new folder."""
    folder.mkdir()
    for name, text in re.findall(r"^---- (\S+)\n(.*?)(?=^\n----|\Z)", TOPICS["example"], re.MULTILINE | re.DOTALL):
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def told(topic: str) -> str:
    """Return what `impact help` prints of a topic."""
    done = CliRunner().invoke(main, ["help", topic])
    assert done.exit_code == 0, done.output
    return done.stdout


def rows_of(page: str, first: str) -> list[str]:
    """Return the first cells of the table whose header begins so."""
    table = page.split(f"\n| {first} |")[1].split("\n\n")[0]
    return re.findall(r"^\| `([^`]+)` \|", table, re.MULTILINE)


def test_readme_first_block_after_the_title_is_prose() -> None:
    title, first = README.split("\n\n")[:2]
    assert re.fullmatch(r"# \S.*", title)
    assert re.match(r"[A-Z]\w+ ", first)
    assert len(first.split()) > 50


@pytest.mark.parametrize("page", PAGES)
def test_page_is_short(page: str) -> None:
    text, most = PAGES[page]
    assert len(text.encode()) <= most


def test_readme_every_command_has_one_row() -> None:
    rows = [re.sub(r"impact | [\[A-Z].*", "", row) for row in rows_of(README, "command")]
    assert sorted(rows) == sorted({*COMMANDS, "help"})


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_command_says_what_it_does_gives_an_example_and_explains_every_option(command: str) -> None:
    said = COMMANDS[command].help or ""
    options = [option for option in COMMANDS[command].params if isinstance(option, click.Option)]
    assert [option.name for option in options if not option.help] == []
    assert command == "help" or f"Example: impact {command}" in " ".join(said.split())


def test_readme_every_topic_of_the_help_has_one_row() -> None:
    assert sorted(rows_of(README, "`impact help` and")) == sorted({*TOPICS, *GENERATED})


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", *sorted(TOPICS)])
def test_page_names_no_command_option_or_topic_that_is_not_there(page: str) -> None:
    text = {**TOPICS, "README.md": README, "DEVELOPERS.md": GUIDE}[page]
    assert set(re.findall(r"`impact ([a-z]+)", text)) <= {*main.commands, "help"}
    assert set(re.findall(r"`impact\s+help\s+([a-z-]+)", text)) <= {*TOPICS, *GENERATED}
    known = {name for command in COMMANDS.values() for option in command.params for name in option.opts} | {"--help"}
    named = set(re.findall(r"`(--[a-z-]+)", text)) | set(re.findall(r"`impact [^`]*?(--[a-z-]+)", text))
    assert named <= known


@pytest.mark.parametrize("topic", sorted(TOPICS))
def test_topic_begins_with_what_it_tells_and_fits_a_terminal(topic: str) -> None:
    title, blank, *_ = TOPICS[topic].split("\n")
    assert re.fullmatch(r"[A-Z].{15,86}[^.]", title)
    assert blank == ""
    prose = TOPICS[topic].split("\n---- ")[0]
    assert [line for line in prose.splitlines() if len(line) > 88] == []


@pytest.mark.parametrize("topic", sorted(TOPICS))
def test_help_prints_the_text_of_a_topic(topic: str) -> None:
    assert TOPICS[topic].strip() in told(topic)


def test_example_has_no_problem_and_no_warning(tmp_path: Path) -> None:
    path = write_example(tmp_path / "workshop")
    assert {one.name for one in path.iterdir()} == set(FOLDER_FILES)
    folder, problems = read_folder(path)
    assert problems == []
    assert folder is not None
    assert folder.assess(draws=100).warnings == ()
    assert len(folder.factors.shipped) == 1  # one own value replaces a row, the other adds one


def test_python_topic_prints_a_line_for_the_account_and_each_part(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_example(tmp_path / "my-workshop")
    monkeypatch.chdir(tmp_path)
    code = "\n".join(line[4:] for line in TOPICS["python"].splitlines() if line.startswith("    "))
    exec(code, {})
    account, part = capsys.readouterr().out.splitlines()
    assert len(account.split()) == 3
    assert part.startswith("pencil-tray ")


@pytest.mark.parametrize("page", PAGES)
def test_page_linked_files_exist(page: str) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", PAGES[page][0])
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_guide_names_tests_and_modules_that_exist() -> None:
    named = set(re.findall(r"`(test_\w+)`", GUIDE))
    assert named
    assert [name for name in named if not (ROOT / "tests" / f"{name}.py").is_file()] == []
    paths = set(re.findall(r"`((?:impact|tests|factors)/[\w/]+\.\w+)`", GUIDE))
    assert paths
    assert [path for path in paths if not (ROOT / path).is_file()] == []


def test_guide_rooms_are_those_of_the_house_in_their_order() -> None:
    assert rows_of(GUIDE, "room") == list(ROOMS)


PACKAGES = sorted({module for module, path in FILES.items() if path.name == "__init__.py"})


@pytest.mark.parametrize("package", PACKAGES)
def test_room_lists_its_modules(package: str) -> None:
    said = ast.get_docstring(ast.parse(FILES[package].read_text(encoding="utf-8"))) or ""
    listed = {
        name for line in re.findall(r"^- (`[^:]+`):", said, re.MULTILINE) for name in re.findall(r"`(\w+)`", line)
    }
    below = {module.rpartition(".")[2] for module in FILES if module.rpartition(".")[0] == package}
    if package == "impact":
        below = {name for name in below if room_of(f"impact.{name}") == "door"}
    assert listed == below
