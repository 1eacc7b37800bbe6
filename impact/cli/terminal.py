"""What the commands share: arguments, options, opening a folder, showing problems, writing a file."""

from __future__ import annotations

import codecs
import functools
import io
import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

import click

from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED, FORECAST_DRAWS

if TYPE_CHECKING:
    from datetime import date

    from impact.account.blocks import Spread
    from impact.api import Folder
    from impact.base.problems import Problem
    from impact.programme import Programme, ProgrammeResults
    from impact.study import Study

FOLDER = click.argument("folder", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")
FORCE = click.option("--force", is_flag=True, help="Overwrite the output file if it exists.")
SHOWN = 20
WHOLE = 1000
"""More characters than the first sentence of a command has."""
ONLY_PART = "may be left out where the records hold one part only"
"""End of the help of `--part` of a command that is about one part."""


READER_LEFT = 141
"""Status where whoever reads the output leaves early: the shell's, 128 and the number of SIGPIPE."""

ESCAPED = "impact-escaped"
"""Name of what stands in for a letter that the terminal cannot show: its number, as JSON writes it too."""


class Commands(MutableMapping[str, click.Command]):
    """Commands by name; those that stand in modules of their own are imported when they are asked for.

    Parameters
    ----------
    elsewhere : mapping of str to str
        Name of a module of `impact.cli` and of the command there, with a dot between them, by the name of the command.
    """

    def __init__(self, elsewhere: Mapping[str, str]) -> None:
        self._found: dict[str, click.Command | str] = dict(elsewhere)

    def __getitem__(self, name: str) -> click.Command:
        found = self._found[name]
        if isinstance(found, str):
            module, _, attribute = found.partition(".")
            self._found[name] = found = cast(click.Command, getattr(import_module(f"impact.cli.{module}"), attribute))
        return found

    def __setitem__(self, name: str, command: click.Command) -> None:
        self._found[name] = command

    def __delitem__(self, name: str) -> None:
        del self._found[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


class OneLineGroup(click.Group):
    """Commands that end with one line and status 1 when the system refuses a file, a stream or memory."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the commands; whoever reads the output may leave early, which ends them without a word."""
        _occupy_streams()
        _escape_letters()
        _set_libraries()
        try:
            with _reader_may_leave():
                return super().main(*args, **extra)
        except MemoryError:
            _refuse("the records do not fit in memory")
        except OSError as error:
            from impact.base.problems import READ_WIDTH, shown

            name = f"{shown(str(error.filename), READ_WIDTH)}: " if error.filename else ""
            _refuse(f"{name}{error.strerror or error}")

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        """Read the arguments, or print the help."""
        with _reader_may_leave():
            return super().make_context(*args, **extra)

    def format_commands(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands, each with its whole first sentence, however narrow the terminal."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, one.get_short_help_str(WHOLE)) for name, one in sorted(self.commands.items())])

    def invoke(self, context: click.Context) -> Any:
        """Run a command; records with errors end it with their problems and status 1."""
        with _reader_may_leave():
            try:
                return super().invoke(context)
            except Exception as error:
                from impact.base.problems import ProblemsError
                from impact.base.serial import NotFiniteError

                if isinstance(error, ProblemsError):
                    stop(error.problems)
                if isinstance(error, NotFiniteError):
                    _refuse(str(error))
                raise


@contextmanager
def _reader_may_leave() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        _drop_output()
        raise SystemExit(READER_LEFT) from None


class OneLine:
    """Ends a command with one line and status 1 where one of these errors is raised, whose text is that line."""

    def __init__(self, *errors: type[Exception]) -> None:
        self.errors = errors

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, self.errors):
            raise click.ClickException(str(error)) from None


def _refuse(reason: str) -> NoReturn:
    click.echo(f"impact: {reason}", err=True)
    _drop_output()
    raise SystemExit(1) from None


def _occupy_streams() -> None:
    """Let a standard stream that came closed lead nowhere, so that no file is opened in its place and written over."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one


def _escape_letters() -> None:
    """Let a terminal without the letters of a text, such as one of ASCII only, show their numbers."""
    codecs.register_error(ESCAPED, _numbers)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=ESCAPED)


def _set_libraries() -> None:
    """Choose, unless the user says otherwise, what libraries read once, when first imported; why: `impact.cli`."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("ARROW_DEFAULT_MEMORY_POOL", "system")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")


def _numbers(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    units = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass")
    pairs = (units[place : place + 2].hex() for place in range(0, len(units), 2))
    return "".join(f"\\u{pair}" for pair in pairs), error.end


def _drop_output() -> None:
    """Send what standard output still holds nowhere when it cannot be written, so that the exit does not try again."""
    if sys.stdout is None:
        return
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def options(*added: Callable[..., Any]) -> Callable[..., Any]:
    """Return what adds options to a command, in this order."""
    return lambda command: functools.reduce(lambda wrapped, option: option(wrapped), reversed(added), command)


def _narrowing(part: str, draws: int = DEFAULT_DRAWS) -> Callable[..., Any]:
    return options(
        click.option("--period", help="Only batches of 2026, 2026-Q1, 2026-03 or 2026-01-01..2026-03-31."),
        click.option("--part", help=part),
        click.option("--site", help="Only batches of one site."),
        click.option(
            "--grant",
            help="Only the days of one grant, and its share of the accounts; the start of its name will do. none: all the work.",
        ),
        click.option(
            "--seed",
            type=click.IntRange(min=0),
            help=f"Seed of the uncertainty run, printed in every output; {DEFAULT_SEED} by default.",
        ),
        click.option(
            "--draws",
            type=click.IntRange(min=100, max=1_000_000),
            help=f"Draws of the uncertainty run; {draws} by default.",
        ),
    )


BESIDE = click.option(
    "--beside",
    metavar="PERIOD",
    help="Put the main figures of another period beside these, as of the year before, with the change.",
)
"""The option that compares two periods, in the words of `--period`."""

narrowing = _narrowing("Only batches of one part.")
"""The options that narrow what is read and set the uncertainty run."""

narrowing_for_part = _narrowing(f"The part that the command is about; {ONLY_PART}.")
"""The same for a command that is about one part, see `part_of`."""

narrowing_for_forecast = _narrowing(f"The part that is pressed; {ONLY_PART}.", FORECAST_DRAWS)
"""The same for a forecast."""

spreading = options(
    click.option(
        "--workers",
        type=click.IntRange(1, 1000),
        help="Read the batches with as many processes here; by default in the one at work.",
    ),
    click.option("--scheduler", help="Read the batches with the workers of a Dask scheduler, tcp://HOST:PORT."),
)
"""The options that have the batches read by several processes."""


def print_json(found: object) -> None:
    """Print what a command found as one JSON document."""
    from impact.base.serial import plain

    click.echo(json.dumps(plain(found), ensure_ascii=False, allow_nan=False))


def show(problems: list[Problem], *, everything: bool = False) -> None:
    """Print problems on standard error: errors first, what repeats in one line, the first twenty lines and the count."""
    from impact.base.problems import counted, errors, lines

    found = lines(problems, everything=everything)
    shown_lines = found if everything else found[:SHOWN]
    for line in shown_lines:
        click.echo(line, err=True)
    hidden = len(found) - len(shown_lines)
    if hidden:
        click.echo(f"… and {counted(hidden, 'more line')}; `impact check --all` shows all", err=True)
    count = sum(problem.count for problem in errors(problems))
    doubts = sum(problem.count for problem in problems) - count
    click.echo(f"{counted(count, 'error')}, {counted(doubts, 'warning')}", err=True)


def stop(problems: list[Problem]) -> NoReturn:
    """Print problems and end with status 1."""
    show(problems)
    raise SystemExit(1)


def open_folder(folder: Path, *, keep: bool = True, spread: Spread | None = None, by_site: bool = False) -> Folder:
    """Return a workshop folder, its rows kept or not; print its problems and end with status 1 when it has errors."""
    from impact.api import read_folder
    from impact.records.files import workshops_in

    inner = workshops_in(folder)
    if inner:
        names = ", ".join(one.name for one in inner)
        message = (
            "a folder of workshops. Name one of them; `impact check`, `impact totals` and `impact report` take them all"
        )
        raise click.UsageError(f"{folder} is {message}. Workshops: {names}.")
    opened, problems = read_folder(folder, keep=keep, spread=spread, by_site=by_site)
    if opened is None:
        stop(problems)
    return opened


def part_of(part: str | None, opened: Folder) -> str:
    """Return the part that a command is about: as typed, else the only one on record; end with status 2 where there are more."""
    from impact.base.problems import choices

    if part is not None:
        return part
    parts = sorted(opened.survey.parts)
    if len(parts) == 1:
        return parts[0]
    raise click.UsageError(
        f"--part: the records hold {len(parts)} parts; say which one is meant. Accepted: {choices('', parts)}."
    )


def days_of(period: str | None) -> tuple[date, date] | None:
    """Return the first and last day of a period as typed; end with status 2 when it is none."""
    from impact.records.selection import PeriodError, parse_period

    try:
        return parse_period(period) if period else None
    except PeriodError as error:
        raise click.UsageError(str(error)) from None


@contextmanager
def spread_over(workers: int | None, scheduler: str | None) -> Iterator[Spread | None]:
    """Give what surveys files elsewhere, None where nobody asked for that; end with one line when it fails."""
    if workers is None and scheduler is None:
        yield None
        return
    if workers is not None and scheduler is not None:
        raise click.UsageError("--workers starts processes here, --scheduler uses those of others: name one of them.")
    from impact.account.cluster import ClusterError, cluster

    with OneLine(ClusterError), cluster(workers=workers, scheduler=scheduler) as spread:
        yield spread


def results_of(
    folder: Path,
    period: str | None,
    spread: Spread | None = None,
    by_site: bool = False,
    keep: bool = False,
    beside: str | None = None,
    **narrowed: Any,
) -> Study:
    """Return the results of a folder, narrowed as the options say; end with status 1 or 2 when that fails.

    Where `keep`, the rows of its batches are kept for whoever asks for them later.
    """
    days, other = days_of(period), days_of(beside)
    return open_folder(folder, keep=keep, spread=spread, by_site=by_site).assess(period=days, beside=other, **narrowed)


def programme_results_of(
    folder: Path, period: str | None, spread: Spread | None = None, **narrowed: Any
) -> ProgrammeResults:
    """Return the results of a folder of workshops, narrowed as the options say; end with status 1 or 2 when that fails."""
    days = days_of(period)
    return open_programme(folder, spread=spread).assess(period=days, **narrowed)


def open_programme(folder: Path, spread: Spread | None = None) -> Programme:
    """Return a folder of workshops; print the problems of all and end with status 1 when one has errors."""
    from impact.programme import read_programme

    programme, problems = read_programme(folder, spread=spread)
    if programme is None:
        stop(problems)
    return programme


def require_free(path: Path, what: str, *suffixes: str, force: bool) -> None:
    """End where the name of an output does not say its kind (status 2), or it cannot be written there (status 1)."""
    from impact.base.files import OutputError, check_free

    if path.suffix not in suffixes:
        raise click.UsageError(f"{path}: the name of {what} ends in {' or '.join(suffixes)}")
    with OneLine(OutputError):
        check_free(path, force=force)


def write(path: Path, content: bytes, *, force: bool, err: bool = False) -> None:
    """Write an output file whole and say so, or end with one line that says why not."""
    from impact.base import files as outputs

    with OneLine(outputs.OutputError):
        outputs.write(path, content, force=force)
    click.echo(f"wrote {path}", err=err)
