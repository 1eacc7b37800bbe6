"""Golden files: what the commands print and write for four workshops, kept to hold a restructured package to them.

    python tests/benchmarks/golden.py make FOLDER       # before: from code that is taken as right
    python tests/benchmarks/golden.py compare FOLDER    # after: 0 if nothing differs, else 1

`make` writes the workshops to FOLDER/inputs and what every command gives for them to FOLDER/outputs. `compare` runs the
commands again on those inputs and prints each difference with its place, as `file > command > place: old -> new`.
Numbers may differ by 1e-12 of themselves, in JSON, texts and cells alike; words, and the digits of whole numbers in
texts, are the same or differ. Charts of pages are compared by their coordinates, attached results by their values.

`--only demo` and `--skip report` choose workshops and groups, or single ones by `--only odd/check`; each may be given
more than once. `--allow FILE` names differences that are meant: a regular expression in each line, searched in the line
that would be printed; # begins a note. Expressions that meet nothing are named.

`make` explains each figure of two workshops, one in three and one in six of the others; of those on compostability,
blends and warnings, of which there are hundreds, 16 for each workshop; with `--all` every figure of all. `compare`
takes one in four of these explanations, and with `--all` all that `make` explained.

Nothing but the command line is used: each group of commands runs in one process that calls `impact.cli.commands.main`, and the
group `terminal` starts a process for each. It needs `pdftotext` and `pdfdetach`. The workshops are invented; there are
more folders beside the four: the example of the help, a programme, batches in parts, and one folder for each fault.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

from golden_documents import Difference, differences, lines_of, read_output
from golden_folders import ROOT, write_inputs

SHOPS = ("demo", "readme", "large", "odd")
PARTS = {
    "demo": ("tool-tray", "sorting-cup", "drawer-divider", "crate-corner", "drip-saucer"),
    "readme": ("example-tray",),
    "large": ("tray", "cup", "divider", "corner", "box", "stand"),
    "odd": ("bowl", "panel", "saucer", "clip"),
}
NARROWED = {
    "demo": (("--period", "2026-Q1"), ("--part", "tool-tray"), ("--site", "bench")),
    "readme": (("--period", "2026-02"),),
    "large": (("--period", "2024"), ("--part", "cup"), ("--site", "hill")),
    "odd": (("--grant", "City Fund"), ("--grant", "Bank"), ("--period", "2026-Q1"), ("--part", "panel"), ("--site", "attic")),
}  # fmt: skip
FEW = ("--draws", "200")
FEWEST = ("--draws", "100")
MANY = ("blends.", "compostability.", "warnings.")
"""Starts of the names of figures of which there are hundreds."""

ONE_IN = {"readme": 3, "large": 6}
MOST_OF_MANY = 16
ONE_IN_COMPARED = 4
LONG = ("report", "explain")
"""Groups that take long: each of their tasks has a process of its own."""

COMMANDS = ("binders", "breakeven", "check", "demo", "explain", "export", "factors", "factors list", "factors show",
            "factors check", "forecast", "new", "report", "totals", "verify")  # fmt: skip
MODULE = ("-m", "impact")
CALL = ("-c", "from impact.cli.commands import main; main()")


@dataclass(frozen=True, slots=True)
class Command:
    """One command and the files or folders that it writes; `apart` in a process of its own."""

    arguments: tuple[str, ...]
    writes: tuple[str, ...] = ()
    apart: bool = False


@dataclass(frozen=True, slots=True)
class Task:
    """Commands that run in one process one after the other; tasks of one shop and group share a golden file."""

    shop: str
    group: str
    commands: tuple[Command, ...]

    @property
    def file(self) -> str:
        return f"{self.shop}/{self.group}.json"


# -- which commands ---------------------------------------------------------------------------------


def _both(*arguments: str) -> list[Command]:
    """Return a command with its text and with its document."""
    return [Command(arguments), Command((*arguments, "--json"))]


def _written(*arguments: str, to: str) -> Command:
    return Command((*arguments, "-o", to), (to,))


def _checks(folder: str) -> list[Command]:
    return [*_both("check", folder), Command(("check", folder, "--all"))]


def _totals(shop: str) -> list[Command]:
    draws = () if shop == "demo" else FEW
    found = [*_both("totals", shop, *draws), *_both("totals", shop, "--by-site", *FEW)]
    for narrowed in NARROWED[shop]:
        found += _both("totals", shop, *narrowed, *FEW)
    return [*found, Command(("totals", shop, "--seed", "7", *FEW, "--json"))]


def _decisions(shop: str) -> dict[str, list[Command]]:
    found: dict[str, list[Command]] = {"breakeven": [], "binders": [], "forecast": []}
    for part in PARTS[shop][:3] if shop == "large" else PARTS[shop]:
        found["breakeven"] += _both("breakeven", shop, "--part", part, *FEW)
        found["binders"] += _both("binders", shop, "--part", part, *FEW)
        term = ("--sessions", "8", "--people", "10")
        found["forecast"] += _both("forecast", shop, "--part", part, *term, "--budget", "30", *FEW)
        found["forecast"] += _both("forecast", shop, "--part", part, *term, "--parts-per-person", "2", *FEW)
    return found


def _reports(shop: str) -> list[list[Command]]:
    """Return the reports of a workshop; the demo's own command writes its PDFs with all draws."""
    chunks: list[list[Command]] = []
    if shop == "demo":
        funder, school, binder = (f"{shop}-copy/reports/{name}.pdf" for name in ("funder", "school", "binder"))
        verified = [
            Command(("verify", funder, "--json")),
            Command(("verify", school, "--json")),
            Command(("verify", binder)),
        ]
        chunks.append([Command(("demo", f"{shop}-copy"), (f"{shop}-copy",)), *verified])
    if shop == "odd":
        pdf = f"{shop}-funder.pdf"
        made = _written("report", shop, "--for", "funder", *FEWEST, "--with-notes", to=pdf)
        chunks.append([made, Command(("verify", pdf, "--json"))])
    narrowed = NARROWED[shop][0] if shop in ("odd", "large") else ()
    chunks.append([_written("report", shop, "--for", "funder", *narrowed, *FEWEST, to=f"{shop}-funder.html")])
    part = PARTS[shop][0]
    small: list[Command] = []
    for name, more in (
        ("school", ("--for", "school", "--sessions", "8", "--people", "20")),
        ("escuela", ("--for", "school", "--language", "es", "--part", part, "--people", "15")),
        ("binder", ("--for", "binder", "--part", part, "--without-people")),
    ):
        pdf, page = f"{shop}-{name}.pdf", f"{shop}-{name}.html"
        small += [_written("report", shop, *more, *FEW, to=pdf), Command(("verify", pdf, "--json"))]
        small.append(_written("report", shop, *more, *FEW, to=page))
    return [*chunks, small]


def _exports(shop: str) -> list[Command]:
    draws = () if shop == "demo" else FEW
    if shop == "large":  # a quarter of a year of one site, else the cells are half a million
        return [_written("export", shop, "--period", "2024-Q1", "--site", "hill", *draws, to=f"{shop}.xlsx")]
    found = [_written("export", shop, *draws, to=f"{shop}.xlsx")]
    if shop == "odd":
        found.append(_written("export", shop, "--grant", "City Fund", *draws, to=f"{shop}-grant.xlsx"))
    return found


def _explains(shop: str, figures: Sequence[str]) -> list[Command]:
    """Return the explanations of figures: documents of all, texts of one in ten."""
    listed = _both("explain", shop, *(("paper",) if shop == "large" else ()), *FEWEST)
    found = [Command(("explain", shop, name, "--json", *FEWEST)) for name in figures]
    texts = [Command(("explain", shop, name, *FEWEST)) for name in figures[::10]]
    shallow = [Command(("explain", shop, "net_kgco2e", "--depth", "3", *FEWEST))]
    narrowed = [Command(("explain", shop, "net_kgco2e.value", *NARROWED[shop][0], "--json", *FEWEST))]
    return [*listed, *found, *texts, *shallow, *narrowed]


def _chosen(shop: str, figures: Sequence[str], *, every: bool) -> list[str]:
    """Return the figures to explain."""
    if every:
        return list(figures)
    many = [name for name in figures if name.startswith(MANY)]
    few = [name for name in figures if not name.startswith(MANY)]
    return [*few[:: ONE_IN.get(shop, 1)], *many[:: len(many) // MOST_OF_MANY + 1]]


def _factors(ids: Sequence[str]) -> list[Command]:
    found = [
        *_both("factors", "list"), *_both("factors", "list", "--in", "odd"),
        Command(("factors", "list", "--kind", "electricity", "--region", "GBR")),
        Command(("factors", "list", "--evidence", "from memory", "--text", "moisture")),
        Command(("factors", "list", "--kind", "binder")), Command(("factors", "show", "fibre.modulos")),
        *_both("factors", "check", "odd/factors.csv"), *_both("factors", "check", "example/factors.csv"),
    ]  # fmt: skip
    for name in (*ids[::25], "fibre.modulus", "polymer.formed.PP/GBR"):
        found += _both("factors", "show", name)
    for name in ("fibre.modulus", "binder.footprint-as-sold.pva-glue", "drying.energy.heated-cabinet"):
        found += _both("factors", "show", name, "--in", "odd")
    return found


def _broken(folder: Path) -> list[Command]:
    places = [f"broken/{one.name}" for one in sorted((folder / "broken").iterdir())]
    found = [command for place in places for command in _both("check", place)]
    for place in places:
        if (folder / place / "factors.csv").is_file():
            found.append(Command(("factors", "check", f"{place}/factors.csv")))
    found += [
        Command(("check", "broken/many", "--all")),
        Command(("check", "broken/many", "--mark", "m.xlsx"), ("m.xlsx",)),
    ]
    found += [Command((name, "broken/fault-33")) for name in ("totals", "explain", "export", "report")]
    return [
        *found,
        *_both("check", "no-such-folder"),
        *_both("check", "example"),
        Command(("check", "odd", "--strict")),
    ]


WRONG = (
    ("totals", "demo", "--period", "2026-13"), ("totals", "demo", "--period", "1999"), ("totals", "demo", "--part", "tray"),
    ("totals", "demo", "--site", "benches"), ("totals", "odd", "--grant", "City"), ("totals", "demo", "--draws", "5"),
    ("totals", "demo", "--draw", "200"), ("total", "demo"), ("explain", "demo", "net"), ("explain", "demo", "net_kgco2"),
    ("explain", "demo", "parts.tool-tray"), ("explain", "demo", "--depth", "2"), ("breakeven", "demo"),
    ("breakeven", "demo", "--part", "drip-saucer"), ("binders", "demo"), ("binders", "demo", "--part", "x"),
    ("forecast", "demo", "--part", "tool-tray"), ("forecast", "demo", "--part", "drip-saucer", "--sessions", "1", "--people", "1"),
    ("report", "demo", "-o", "report.txt"), ("report", "demo", "-o", "no/report.pdf"), ("report", "demo", "--language", "es"),
    ("report", "demo", "--for", "teacher"), ("export", "demo", "-o", "demo.csv"), ("export", "demo", "-o", "demo/parts.csv"),
    ("verify", "demo/parts.csv"), ("verify", "no.pdf"), ("check", "programme", "--mark", "x.xlsx"),
    ("check", "demo", "--mark", "x.csv"), ("breakeven", "programme"), ("demo", "odd"), ("new", "odd", "--country", "USA"),
    ("new", "fresh"), ("new", "fresh", "--country", "Germny"), ("factors", "list", "--region", "GBX"), ("--version",), (),
)  # fmt: skip


def _news() -> list[Command]:
    return [
        Command(("new", "new-usa", "--country", "USA", "--units", "us"), ("new-usa",)),
        Command(("new", "new-deu", "--country", "deu", "--name", "Papier für alle"), ("new-deu",)),
        Command(("check", "new-deu")),
    ]


def tasks(folder: Path, *, one_in: int = 1) -> list[Task]:
    """Return all tasks, long ones first.

    Parameters
    ----------
    folder : Path
        The inputs.
    one_in : int
        One in how many explanations to take.
    """
    names = json.loads((folder / "names.json").read_text(encoding="utf-8"))
    found = [
        Task(shop, "report", tuple(chunk)) for shop in ("demo", "odd", "large", "readme") for chunk in _reports(shop)
    ]
    for shop in SHOPS:
        commands = _explains(shop, _chosen(shop, names["figures"][shop], every=names["every"]))[::one_in]
        found += [Task(shop, "explain", tuple(commands[start : start + 40])) for start in range(0, len(commands), 40)]
    for shop in SHOPS:
        groups = {"check": _checks(shop), "totals": _totals(shop), **_decisions(shop), "export": _exports(shop)}
        found += [Task(shop, group, tuple(commands)) for group, commands in groups.items()]
    marked = Command(("check", "odd", "--mark", "odd-marked.xlsx"), ("odd-marked.xlsx",))
    programme = [*_checks("programme"), *_both("totals", "programme", *FEW)]
    programme += _both("totals", "programme", "--site", "readme", *FEW)
    helps = [Command((*name.split(), "--help")) for name in ("", *COMMANDS)]
    apart = [
        ("--help",),
        ("check", "demo"),
        ("totals", "demo", *FEW),
        ("check", "broken/many"),
        ("totals", "demo", "--part", "x"),
    ]
    more = {
        "mark": [marked], "programme": programme, "factors": _factors(names["factors"]), "broken": _broken(folder),
        "parts": [*_checks("parts"), *_both("totals", "parts", *FEW)], "new": _news(), "help": helps,
        "wrong": [Command(arguments) for arguments in WRONG],
        "terminal": [Command(arguments, apart=True) for arguments in apart],
    }  # fmt: skip
    return found + [Task("common", group, tuple(commands)) for group, commands in more.items()]


# -- running ----------------------------------------------------------------------------------------


def _environment() -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in ("LC_ALL", "LANG", "COLUMNS")}
    return {**kept, "PYTHONPATH": str(ROOT), "COLUMNS": "80", "LANG": "C.UTF-8", "PYTHONHASHSEED": "0"}


def _program() -> list[str]:
    """Return how the command is started."""
    return [sys.executable, *(MODULE if (ROOT / "impact" / "__main__.py").exists() else CALL)]


def _outcome(text: str, place: Path) -> list[str]:
    return lines_of(text.replace(str(place), "<here>").replace(str(ROOT), "<root>"))


def _in_process(arguments: Sequence[str]) -> tuple[Any, str, str]:
    """Call the command line in this process; return the exit status and what was printed."""
    from impact.cli.commands import main

    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    status: Any = None
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(list(arguments), prog_name="impact")
        except SystemExit as end:
            status = end.code or 0
        except Exception as error:  # a crash is an outcome to be compared, too
            status = f"{type(error).__name__}: {error}"
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.detach().getvalue().decode())
    return status, texts[0], texts[1]


def _apart(arguments: Sequence[str]) -> tuple[Any, str, str]:
    """Run the command in a process of its own; how its usage calls it is put right."""
    done = subprocess.run([*_program(), *arguments], capture_output=True, text=True, check=False)
    out, err = (
        re.sub(r"(Usage:|Try ')( ?)(-c|python3? -m impact)", r"\1\2impact", text) for text in (done.stdout, done.stderr)
    )
    return done.returncode, out, err


def _run_one(command: Command) -> dict[str, Any]:
    status, out, err = (_apart if command.apart else _in_process)(command.arguments)
    here = Path.cwd()
    printed: Any = _outcome(out, here)
    if "--json" in command.arguments and out:
        printed = json.loads(out)
    written = {name: read_output(Path(name)) if Path(name).exists() else None for name in command.writes}
    return {"status": status, "printed": printed, "errors": _outcome(err, here), "written": written}


def run_here() -> None:
    """Run the commands that stand on the standard input, and print their outcomes."""
    commands = [Command(tuple(one[0]), tuple(one[1]), one[2]) for one in json.load(sys.stdin)]
    import impact

    if Path(str(impact.__file__)).resolve().parents[1] != ROOT:
        raise SystemExit(f"{impact.__file__} is not the package beside this script")
    json.dump([_run_one(one) for one in commands], sys.stdout)


def _run(unit: Sequence[Task], place: Path) -> list[dict[str, Any]]:
    """Run tasks in one process and return what `run_here` found for each command."""
    given = json.dumps([[one.arguments, one.writes, one.apart] for task in unit for one in task.commands])
    done = subprocess.run(
        [sys.executable, __file__, "run"], input=given, capture_output=True, text=True, check=False, cwd=place, env=_environment()
    )  # fmt: skip
    if done.returncode != 0:
        raise SystemExit(f"{unit[0].file}: the process ended with {done.returncode}\n{done.stderr[-3000:]}")
    outcomes: list[dict[str, Any]] = json.loads(done.stdout)
    return outcomes


def _units(chosen: Iterable[Task]) -> list[list[Task]]:
    """Return what runs in one process: a long task, or the short ones of a workshop, for a process costs a second."""
    units: list[list[Task]] = []
    short: dict[str, list[Task]] = {}
    for task in chosen:
        if task.group in LONG:
            units.append([task])
        elif task.shop in short:
            short[task.shop].append(task)
        else:
            short[task.shop] = [task]
            units.append(short[task.shop])
    return units


def run_all(chosen: Iterable[Task], inputs: Path, jobs: int) -> dict[str, dict[str, Any]]:
    """Return the outcome of each command, by golden file; the inputs are copied first."""
    outcomes: dict[str, dict[str, Any]] = {}
    with tempfile.TemporaryDirectory(prefix="golden-") as name, ThreadPoolExecutor(jobs) as pool:
        place = Path(name).resolve()
        shutil.copytree(inputs, place, dirs_exist_ok=True)

        def timed(unit: list[Task]) -> tuple[list[Task], list[dict[str, Any]], float]:
            start = perf_counter()
            return unit, _run(unit, place), perf_counter() - start

        for unit, found, seconds in pool.map(timed, _units(chosen)):
            left = iter(found)
            for task in unit:
                outcome = {" ".join(command.arguments): next(left) for command in task.commands}
                outcomes.setdefault(task.file, {}).update(outcome)
            files = ", ".join(task.file for task in unit)
            print(f"{seconds:6.1f} s  {files}: {len(found)} commands", file=sys.stderr)
    return outcomes


# -- the two commands -------------------------------------------------------------------------------


def _impact(place: Path, arguments: Sequence[str]) -> str:
    command = [*_program(), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=True, cwd=place, env=_environment()).stdout


def _names(place: Path) -> dict[str, Any]:
    """Return the names of all figures, those of an interval as one, and the ids of all factors."""
    factors = json.loads(_impact(place, ("factors", "list", "--json")))["factors"]
    return {"figures": {shop: _figures(place, shop) for shop in SHOPS}, "factors": [one["id"] for one in factors]}


def _figures(place: Path, shop: str) -> list[str]:
    """Return the names of figures; where they cannot be listed in one, table by table, a failing one named as a whole."""
    names = _listed(place, shop)
    if names is None:
        tables = json.loads(_impact(place, ("totals", shop, "--json", *FEWEST)))
        found = {table: _listed(place, shop, table) for table in tables}
        names = [name for table, listed in found.items() for name in ([table] if listed is None else listed)]
    return list(dict.fromkeys(re.sub(r"\.(value|low|high)$", "", name) for name in names))


def _listed(place: Path, shop: str, *table: str) -> list[str] | None:
    """Return the names of figures, none of a table without figures, and None where the command fails."""
    command = [*_program(), "explain", shop, *table, "--json", *FEWEST]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=place, env=_environment())
    if done.returncode == 0:
        return [one["figure"] for one in json.loads(done.stdout)["figures"]]
    return [] if done.returncode == 2 else None  # 2: no figure has such a name


def make(folder: Path, chosen: argparse.Namespace) -> int:
    """Write the inputs, unless they are there, and what the commands give for them."""
    inputs = folder / "inputs"
    if not inputs.exists():
        inputs.mkdir(parents=True)
        write_inputs(inputs, lambda arguments: print(_impact(inputs, arguments), end="", file=sys.stderr))
        names = {**_names(inputs), "every": chosen.all}
        (inputs / "names.json").write_text(json.dumps(names, indent=1), encoding="utf-8")
    outcomes = run_all(_narrowed(tasks(inputs), chosen), inputs, chosen.jobs)
    for file, outcome in outcomes.items():
        target = folder / "outputs" / file
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(json.dumps(outcome, ensure_ascii=False, indent=1), encoding="utf-8")
    print(f"{sum(map(len, outcomes.values()))} commands in {len(outcomes)} files")
    return 0


def compare(folder: Path, chosen: argparse.Namespace) -> int:
    """Print what differs from the golden files; return 1 if anything does that is not allowed."""
    start = perf_counter()
    inputs = folder / "inputs"
    allowed = _allowed(chosen.allow)
    outcomes = run_all(
        _narrowed(tasks(inputs, one_in=1 if chosen.all else ONE_IN_COMPARED), chosen), inputs, chosen.jobs
    )
    found = [one for file, outcome in outcomes.items() for one in _against(folder / "outputs" / file, file, outcome)]
    if not outcomes:
        raise SystemExit("nothing is chosen")
    met = {pattern for pattern in allowed for one in found if re.search(pattern, str(one))}
    meant = [one for one in found if any(re.search(pattern, str(one)) for pattern in met)]
    left = [one for one in found if one not in meant]
    for one in left[: chosen.most]:
        print(one)
    if len(left) > chosen.most:
        print(f"... and {len(left) - chosen.most} more")
    for pattern in allowed:
        if pattern not in met:
            print(f"allowed, but not met: {pattern}")
    commands = sum(map(len, outcomes.values()))
    print(
        f"{len(left)} differences, {len(meant)} allowed, in {len(outcomes)} files with {commands} commands "
        f"({perf_counter() - start:.0f} s; {_processor_seconds():.0f} s of processors)"
    )
    return 1 if left else 0


def _processor_seconds() -> float:
    """Return what the processes that were started took. [s]"""
    took = os.times()
    return took.children_user + took.children_system


def _against(golden: Path, file: str, outcome: dict[str, Any]) -> Iterable[Difference]:
    if not golden.exists():
        return [Difference(file, None, "a file that make did not write")]
    old = json.loads(golden.read_text(encoding="utf-8"))
    return differences(old, json.loads(json.dumps(outcome)), file, only=file.endswith("/explain.json"))


def _allowed(path: Path | None) -> list[str]:
    lines = [] if path is None else path.read_text(encoding="utf-8").splitlines()
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def _narrowed(found: list[Task], chosen: argparse.Namespace) -> list[Task]:
    def named(task: Task, words: Sequence[str]) -> bool:
        return any(word in (task.shop, task.group, f"{task.shop}/{task.group}") for word in words)

    return [task for task in found if (not chosen.only or named(task, chosen.only)) and not named(task, chosen.skip)]


def main() -> int:
    parser = argparse.ArgumentParser(description="Golden files of the commands.")
    parser.add_argument("action", choices=("make", "compare", "run"))
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument(
        "--only", action="append", default=[], metavar="NAME", help="a workshop, a group, or shop/group"
    )
    parser.add_argument("--skip", action="append", default=[], metavar="NAME", help="the same, left out")
    parser.add_argument("--allow", type=Path, metavar="FILE", help="regular expressions of differences that are meant")
    parser.add_argument("--all", action="store_true", help="every explanation; see above")
    parser.add_argument("--most", type=int, default=200, help="differences to print")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes at a time")
    chosen = parser.parse_args()
    if chosen.action == "run":
        run_here()
        return 0
    if chosen.folder is None:
        parser.error("name the folder of the golden files")
    return (make if chosen.action == "make" else compare)(chosen.folder.resolve(), chosen)


if __name__ == "__main__":
    sys.exit(main())
