"""What the commands share: arguments, options, opening a folder, showing problems, writing a file."""

from __future__ import annotations

import codecs
import functools
import io
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

if TYPE_CHECKING:
    from datetime import date

    from impact.account.blocks import Spread
    from impact.api import Folder
    from impact.base.problems import Problem
    from impact.programme import ProgrammeResults
    from impact.study import Study

FOLDER = click.argument("folder", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")
FORCE = click.option("--force", is_flag=True, help="Overwrite the output file if it exists.")
SHOWN = 20
ONLY_PART = "may be left out where the records hold one part only"
"""End of the help of `--part` of a command that is about one part."""


READER_LEFT = 141
"""Status where whoever reads the output leaves early: the shell's, 128 and the number of SIGPIPE."""

ESCAPED = "impact-escaped"
"""Name of what stands in for a letter that the terminal cannot show: its number, as JSON writes it too."""


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

    def invoke(self, context: click.Context) -> Any:
        """Run a command."""
        with _reader_may_leave():
            return super().invoke(context)


@contextmanager
def _reader_may_leave() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        _drop_output()
        raise SystemExit(READER_LEFT) from None


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
    """Choose, unless the user says otherwise, what numpy and Arrow read once, when they are first imported.

    The matrices of a run are small: more threads would spend more time on waiting for work than they save. Memory that
    a block of batches gives back is soon asked for again: the pool of the system keeps it, Arrow's own does not.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("ARROW_DEFAULT_MEMORY_POOL", "system")


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


def narrowing(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that narrow what is read and set the uncertainty run."""
    grant = click.option("--grant", help="Only the days of one grant, and its share of the accounts.")
    return _narrowed_by(click.option("--part", help="Only batches of one part."), grant(command))


def narrowing_for_part(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the same options for a command that is about one part, see `part_of`."""
    return _narrowed_by(click.option("--part", help=f"The part that the command is about; {ONLY_PART}."), command)


def _narrowed_by(part: Callable[..., Any], command: Callable[..., Any]) -> Callable[..., Any]:
    options = (
        click.option("--period", help="Only batches of 2026, 2026-Q1, 2026-03 or 2026-01-01..2026-03-31."),
        part,
        click.option("--site", help="Only batches of one site."),
        click.option(
            "--seed", type=click.IntRange(min=0), help="Seed of the uncertainty run; printed in every output."
        ),
        click.option("--draws", type=click.IntRange(min=100, max=1_000_000), help="Draws of the uncertainty run."),
    )
    return functools.reduce(lambda wrapped, option: option(wrapped), reversed(options), command)


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
    from impact.programme import workshops_in

    inner = workshops_in(folder)
    if inner:
        names = ", ".join(one.name for one in inner)
        message = "a folder of workshops. Name one of them; `impact check` and `impact totals` take them all"
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


def spreading(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that have the batches read by several processes."""
    options = (
        click.option("--workers", type=click.IntRange(1, 1000), help="Read the batches with as many processes here."),
        click.option("--scheduler", help="Read the batches with the workers of a Dask scheduler, tcp://HOST:PORT."),
    )
    return functools.reduce(lambda wrapped, option: option(wrapped), reversed(options), command)


@contextmanager
def spread_over(workers: int | None, scheduler: str | None) -> Iterator[Spread | None]:
    """Give what surveys files elsewhere, None where nobody asked for that; end with one line when it fails."""
    if workers is None and scheduler is None:
        yield None
        return
    if workers is not None and scheduler is not None:
        raise click.UsageError("--workers starts processes here, --scheduler uses those of others: name one of them.")
    from impact.account.cluster import ClusterError, cluster

    try:
        with cluster(workers=workers, scheduler=scheduler) as spread:
            yield spread
    except ClusterError as error:
        raise click.ClickException(str(error)) from None


def results_of(
    folder: Path,
    period: str | None,
    part: str | None,
    site: str | None,
    grant: str | None,
    seed: int | None,
    draws: int | None,
    spread: Spread | None = None,
    by_site: bool = False,
    keep: bool = False,
) -> Study:
    """Return the results of a folder, narrowed as the options say; end with status 1 or 2 when that fails.

    Where `keep`, the rows of its batches are kept for whoever asks for them later.
    """
    from impact.base.problems import ProblemsError

    days = days_of(period)
    try:
        opened = open_folder(folder, keep=keep, spread=spread, by_site=by_site)
        return opened.assess(seed=seed, draws=draws, period=days, part=part, site=site, grant=grant)
    except ProblemsError as error:
        stop(error.problems)


def programme_results_of(
    folder: Path, period: str | None, spread: Spread | None = None, **options: Any
) -> ProgrammeResults:
    """Return the results of a folder of workshops, narrowed as the options say; end with status 1 or 2 when that fails."""
    from impact.base.problems import ProblemsError
    from impact.programme import read_programme

    days = days_of(period)
    programme, problems = read_programme(folder, spread=spread)
    if programme is None:
        stop(problems)
    try:
        return programme.assess(period=days, **options)
    except ProblemsError as error:
        stop(error.problems)


def write(path: Path, content: bytes, *, force: bool) -> None:
    """Write an output file whole, or end with one line that says why not."""
    from impact.base import files as outputs

    try:
        outputs.write(path, content, force=force)
    except outputs.OutputError as error:
        raise click.ClickException(str(error)) from None
