"""The commands `report` and `demo`."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import nullcontext
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact.cli.terminal import (
    BESIDE,
    FOLDER,
    FORCE,
    OneLine,
    days_of,
    narrowing,
    open_folder,
    open_programme,
    options,
    require_free,
    stop,
    write,
)
from impact.report.kinds import KINDS, LANGUAGES, TOGETHER, TOGETHER_LANGUAGES, Kind, drawing, reading

if TYPE_CHECKING:
    from contextlib import AbstractContextManager
    from datetime import date

    from impact.api import Folder
    from impact.base.problems import Problem
    from impact.base.processes import Doing
    from impact.programme import Programme
    from impact.report.production import Narrowing
    from impact.report.request import Request

USUAL = next(iter(KINDS))


def _one_of(words: Iterable[str]) -> str:
    """Return words as a choice: a, b or c."""
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def _whom() -> str:
    """Return for whom or what each kind of report is that its name does not tell."""
    untold = (f"; {kind.name}: for {kind.whom}" for kind in KINDS.values() if kind.whom != f"a {kind.name}")
    return f"Whom the report is for{''.join(untold)}."


def _spoken() -> str:
    """Return which languages only some kinds of report are translated into."""
    wholes = {language: [kind.whom for kind in KINDS.values() if language in kind.languages] for language in LANGUAGES}
    partly = (f"; {language} for {_one_of(whom)} only" for language, whom in wholes.items() if len(whom) < len(KINDS))
    return f"Language of the report, by default that of the workshop's country, else English{''.join(partly)}."


QUESTIONS = options(
    *(
        click.option(
            question.option,
            type=click.IntRange(1, question.most),
            help=f"{kind.name.capitalize()}: {question.meaning}; {question.usual} by default.",
        )
        for kind in KINDS.values()
        for question in kind.questions
    )
)
"""The options that kinds of report are asked with."""

HELP = f"""Write a report of FOLDER as PDF or HTML.

FOLDER is a workshop, or a folder of several for a report of all together. By default a PDF in the current folder. For {" and for ".join(kind.whom for kind in KINDS.values() if kind.granted)}, where
the settings list one grant and it has batches, that grant alone is counted; --grant none counts all the work.

For {" and for ".join(kind.whom for kind in KINDS.values() if kind.one_part)} --part names the part; it is the one with
the most good parts by default. The PDF carries the records and the factor tables, so that `impact verify` can work it
out again.

Example: impact report my-workshop --for {USUAL} -o 2026.pdf
"""


@click.command(help=HELP)
@FOLDER
@click.option("--for", "reader", type=click.Choice(tuple(KINDS)), default=USUAL, show_default=True, help=_whom())
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help=f"Where to write, .pdf or .html by its name; by default {_one_of(f'{name}.pdf' for name in KINDS)} here.",
)
@click.option("--brief", is_flag=True, help="Its first page alone; it carries the same records, and verifies.")
@click.option("--language", type=click.Choice(LANGUAGES), help=_spoken())
@click.option(
    "--with-notes",
    is_flag=True,
    help="Keep the notes in the records that the PDF carries; else only words that a caution goes by stay.",
)
@click.option("--without-people", is_flag=True, help="Leave the column people out of the records that the PDF carries.")
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    help="A Jinja template of your own in place of ours; verify then proves no page.",
)
@QUESTIONS
@click.option("--strict", is_flag=True, help="Write no report of records that are doubted.")
@FORCE
@narrowing
@BESIDE
def report(folder: Path, output: Path | None, strict: bool, force: bool, **options: Any) -> None:
    """Write a report, see `HELP`."""
    from impact.base.problems import counted as number_of
    from impact.base.problems import sentences

    with _aside(folder, options["reader"]) as do:
        request, counted = _asked(options)
        target = output or Path(f"{request.reader}{'-brief' if request.brief else ''}.pdf")
        require_free(target, "a report", ".pdf", ".html", force=force)
        request, counted = _settled(folder, request, counted, options["language"])
        if target.suffix == ".pdf":
            _refuse_draws(counted.draws)
            _ask_for_pango()
        content, doubts = _made(folder, request, counted, target.suffix, do)
    if strict and doubts:
        stop(doubts)
    write(target, content, force=force)
    if doubts:
        number = number_of(sum(doubt.count for doubt in doubts), "doubt")
        click.echo(f"{number} about the records, the worst: {next(iter(sentences(doubts)))}", err=True)


def _aside(folder: Path, kind: str) -> AbstractContextManager[Doing]:
    """Return what does a share of the work of a report in another process meanwhile; here for several workshops.

    The process begins at once, before anything that this one needs is imported.
    """
    from impact.base.processes import helper, here
    from impact.records.files import workshops_in

    if workshops_in(folder):
        return nullcontext(here)
    return helper(*drawing(kind), meanwhile=reading(kind))


def _settled(folder: Path, request: Request, counted: Narrowing, language: str | None) -> tuple[Request, Narrowing]:
    """Return what is asked for with its language and its grant as the records have them, and say what is taken."""
    from impact.records.files import workshops_in

    if workshops_in(folder):
        _require_together(folder, request, counted)
        programme = open_programme(folder)
        _tell_grants(programme, counted)
        countries = [one.workshop.country for one in programme.folders.values()]
        languages, whom = TOGETHER_LANGUAGES, f"{request.kind.whom} on several workshops"
    else:
        opened = open_folder(folder)
        counted = _for_grant(opened, counted, granted=request.kind.granted)
        countries, languages, whom = [opened.workshop.country], request.kind.languages, request.kind.whom
    if language is None:
        request = replace(request, language=_usual_language(countries, languages, whom))
    return request, counted


def _require_together(folder: Path, request: Request, counted: Narrowing) -> None:
    """End with status 2 where what is asked for is for one workshop alone."""
    if request.reader != TOGETHER:
        fault = f"--for {request.reader} is for one of them; --for {TOGETHER} takes all"
    elif request.language not in TOGETHER_LANGUAGES:
        fault = f"its report is not translated into {request.language}; accepted: {', '.join(TOGETHER_LANGUAGES)}"
    elif request.template is not None or counted.beside is not None:
        fault = f"--{'template' if request.template is not None else 'beside'} is for one of them"
    else:
        return
    raise click.UsageError(f"{folder} is a folder of workshops; {fault}")


def _tell_grants(programme: Programme, counted: Narrowing) -> None:
    """Say that all the work is counted where workshops list grants and none is asked for."""
    names = sorted({grant.name for folder in programme.folders.values() for grant in folder.workshop.grants})
    if names and counted.grant is None:
        click.echo(f"all the work is counted; --grant NAME counts one: {', '.join(names)}", err=True)


def _asked(options: dict[str, Any]) -> tuple[Request, Narrowing]:
    """Return what the options of the command ask for; end with status 2 where they do not go together."""
    from impact.report.production import Narrowing
    from impact.report.request import Request

    kind, language, part = KINDS[options["reader"]], options["language"], options["part"]
    if language not in (None, *kind.languages):
        accepted = ", ".join(kind.languages)
        raise click.UsageError(f"the report for {kind.name} is not translated into {language}; accepted: {accepted}")
    left_out = ("notes",) * (not options["with_notes"]) + ("people",) * options["without_people"]
    asked, template = _answers(kind, options), _own(options["template"])
    part_asked = part if kind.one_part else None
    request = Request(kind.name, language or "en", part_asked, left_out, asked, template, options["brief"])
    counted = Narrowing(
        options["seed"], options["draws"], days_of(options["period"]), None if kind.one_part else part,
        options["site"], options["grant"], _beside(kind, options["beside"]),
    )  # fmt: skip
    return request, counted


def _beside(kind: Kind, period: str | None) -> tuple[date, date] | None:
    """Return the days of the other period; end with status 2 where a kind of report has no place for it."""
    if period is not None and not kind.granted:
        names = _one_of(f"--for {one.name}" for one in KINDS.values() if one.granted)
        raise click.UsageError(f"--beside belongs to {names}")
    return days_of(period)


def _answers(kind: Kind, options: dict[str, Any]) -> dict[str, int]:
    """Return what was given to the questions of a kind; end with status 2 where one of another kind was answered."""
    for other in KINDS.values():
        if other is not kind and any(options[question.name] is not None for question in other.questions):
            *first, last = (question.option for question in other.questions)
            listed = f"{', '.join(first)} and {last} belong" if first else f"{last} belongs"
            raise click.UsageError(f"{listed} to --for {other.name}")
    given = {question.name: options[question.name] for question in kind.questions}
    return {name: number for name, number in given.items() if number is not None}


def _own(path: Path | None) -> str | None:
    """Return the text of a template; end with one line where it cannot be read."""
    from impact.base.files import SETTINGS_LIMIT, NotRegularError, read_regular

    if path is None:
        return None
    try:
        return read_regular(path, limit=SETTINGS_LIMIT).decode("utf-8-sig")
    except NotRegularError as error:
        raise click.ClickException(f"{path}: {error.reason}") from None
    except UnicodeDecodeError:
        raise click.ClickException(f"{path}: a template is text in UTF-8") from None


def _for_grant(opened: Folder, counted: Narrowing, *, granted: bool) -> Narrowing:
    """Return what is counted with the whole name of a grant: the one asked for, else the only one; and say which is taken."""
    if counted.grant is not None:
        chosen, _ = opened.days_for(counted.grant, counted.period)
        return replace(counted, grant=chosen.name if chosen else None)
    usual = opened.usual_grant(period=counted.period, part=counted.part, site=counted.site) if granted else None
    if usual is None:
        return counted
    click.echo(usual.sentence, err=True)
    return replace(counted, grant=usual.name)


def _usual_language(countries: list[str], languages: tuple[str, ...], whom: str) -> str:
    """Return the language of a report where none is asked for, and say which it is where another could be expected."""
    from impact.report.request import usual_language

    spoken = usual_language(countries, languages, whom)
    if spoken.sentence is not None:
        click.echo(spoken.sentence, err=True)
    return spoken.language


def _refuse_draws(draws: int | None) -> None:
    """End with status 2 where a PDF would have more draws than a verification takes."""
    from impact.report.production import MOST_DRAWS

    if draws is not None and draws > MOST_DRAWS:
        raise click.UsageError(
            f"--draws {draws}: a PDF that can be verified has {MOST_DRAWS} at most; HTML may have more"
        )


def _ask_for_pango() -> None:
    """End with one line, before anything is worked out or written, where no PDF can be laid out."""
    from impact.report.layout.pango import absence

    missing = absence()
    if missing is not None:
        raise click.ClickException(missing)


def _made(
    folder: Path, request: Request, counted: Narrowing, suffix: str, do: Doing | None = None
) -> tuple[bytes, list[Problem]]:
    """Return a report and the doubts about its records; end with one line where it cannot be made.

    `do` does a share of the work: here, unless it is said.
    """
    from impact.base.processes import here
    from impact.report.layout.pdf import RenderError
    from impact.report.production import prepare
    from impact.report.request import NothingToSayError

    with OneLine(RenderError, NothingToSayError):
        product = prepare(folder, request, counted, do or here)
        content = product.content(suffix)
    lacking = product.lacking(suffix)
    if lacking is not None:
        click.echo(f"{lacking}; {UNTIL_THEN[suffix]}", err=True)
    return content, list(product.report.results.warnings)


UNTIL_THEN = {
    ".pdf": "until then the report names what is lacking in brackets.",
    ".html": "until then a browser shows them only where its own system has one.",
}
"""What becomes of letters that no font of this system holds."""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("impact-demo"))
def demo(folder: Path) -> None:
    """Copy the demo workshop and write a report of each kind.

    Both go to FOLDER, by default impact-demo. The records of the demo are invented. Example: impact demo try-it
    """
    from impact.base.processes import helper
    from impact.records.demonstration import REPORTS, DemoError, copy_demo

    _ask_for_pango()
    with OneLine(DemoError):
        copy_demo(folder)
    click.echo(f"copied the demo workshop to {folder} (invented records)")
    first, *others = KINDS
    with helper() as do:
        made = do({kind: partial(_of_demo, folder, kind) for kind in others})
        write(folder / REPORTS / f"{first}.pdf", _of_demo(folder, first), force=True)
        for kind, content in made().items():
            write(folder / REPORTS / f"{kind}.pdf", content, force=True)


def _of_demo(folder: Path, kind: str) -> bytes:
    """Return a report of the demo, for its grant where such a report counts one."""
    from impact.report.production import Narrowing
    from impact.report.request import Request

    granted = open_folder(folder).usual_grant(period=None, part=None, site=None)
    counted = Narrowing(grant=granted.name if granted and KINDS[kind].granted else None)
    return _made(folder, Request(kind), counted, ".pdf")[0]
