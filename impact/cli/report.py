"""The commands `report` and `demo`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact.cli.terminal import FOLDER, FORCE, days_of, narrowing, open_folder, stop, write

if TYPE_CHECKING:
    from impact.report.production import Narrowing
    from impact.report.request import Reader, Request

READERS: tuple[Reader, ...] = ("funder", "school", "binder")
LANGUAGES = ("en", "es")


@click.command()
@FOLDER
@click.option(
    "--for",
    "reader",
    type=click.Choice(READERS),
    default="funder",
    show_default=True,
    help="Whom the report is for; binder: for the choice of a binder.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Where to write, .pdf or .html by its name; by default funder.pdf, school.pdf or binder.pdf here.",
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    show_default=True,
    help="Language of the report; es for a school only.",
)
@click.option(
    "--with-notes",
    is_flag=True,
    help="Keep the notes in the records that the PDF carries; else only words that a caution goes by stay.",
)
@click.option("--without-people", is_flag=True, help="Leave the column people out of the records that the PDF carries.")
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    help="A Jinja template of your own in place of ours; verify then compares no pages.",
)
@click.option("--sessions", type=click.IntRange(1, 10_000), help="School: sessions in one term; 10 by default.")
@click.option("--people", type=click.IntRange(1, 10_000), help="School: pupils in each session; 12 by default.")
@click.option(
    "--parts-per-person", type=click.IntRange(1, 1_000), help="School: parts that each pupil presses; 1 by default."
)
@FORCE
@narrowing
def report(folder: Path, output: Path | None, force: bool, **options: Any) -> None:
    """Write the report of FOLDER as PDF or HTML, by default to a PDF in the current folder.

    For a school and for a choice of binder --part names the part; it is the one with the most good parts by default.
    The PDF carries the records and the factor tables, so that `impact verify` can work it out again.

    Example: impact report my-workshop --for funder -o 2026.pdf
    """
    from impact.base.files import OutputError, check_free

    request, counted = _asked(options)
    target = output or Path(f"{request.reader}.pdf")
    if target.suffix not in (".pdf", ".html"):
        raise click.UsageError(f"{target}: the name of a report ends in .pdf or .html")
    try:
        check_free(target, force=force)
    except OutputError as error:
        raise click.ClickException(str(error)) from None
    open_folder(folder)
    if target.suffix == ".pdf":
        _ask_for_pango()
    write(target, _made(folder, request, counted, target.suffix), force=force)
    click.echo(f"wrote {target}")


def _asked(options: dict[str, Any]) -> tuple[Request, Narrowing]:
    """Return what the options of the command ask for; end with status 2 where they do not go together."""
    from impact.base.language import COMPLETE
    from impact.report.production import Narrowing
    from impact.report.request import Request, Term

    reader, language = options["reader"], options["language"]
    if reader not in COMPLETE[language]:
        raise click.UsageError(f"the report for {reader} is not translated into {language}; accepted: en")
    term = {name: options[name] for name in ("sessions", "people", "parts_per_person") if options[name] is not None}
    if term and reader != "school":
        raise click.UsageError("--sessions, --people and --parts-per-person belong to --for school")
    whole = reader == "funder"
    left_out = ("notes",) * (not options["with_notes"]) + ("people",) * options["without_people"]
    request = Request(
        reader, language, None if whole else options["part"], left_out, Term(**term), _own(options["template"])
    )
    counted = Narrowing(
        options["seed"], options["draws"], days_of(options["period"]), options["part"] if whole else None,
        options["site"], options["grant"],
    )  # fmt: skip
    return request, counted


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


def _ask_for_pango() -> None:
    """End with one line, before anything is worked out or written, where no PDF can be laid out."""
    from impact.report.pango import absence

    missing = absence()
    if missing is not None:
        raise click.ClickException(missing)


def _made(folder: Path, request: Request, counted: Narrowing, suffix: str) -> bytes:
    """Return a report and print what is to be said of it; end with one line where it cannot be made."""
    from impact.base.problems import ProblemsError
    from impact.report.pdf import RenderError
    from impact.report.production import prepare
    from impact.report.request import NothingToSayError

    try:
        product = prepare(folder, request, counted)
        for remark in product.remarks():
            click.echo(remark)
        return product.content(suffix)
    except ProblemsError as error:
        stop(error.problems)
    except (RenderError, NothingToSayError) as error:
        raise click.ClickException(str(error)) from None


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("impact-demo"))
def demo(folder: Path) -> None:
    """Copy the demo workshop to FOLDER (impact-demo) and write its three reports there.

    The records of the demo are invented. Example: impact demo try-it
    """
    from impact.records.demonstration import REPORTS, DemoError, copy_demo
    from impact.report.production import Narrowing
    from impact.report.request import Request

    _ask_for_pango()
    try:
        copy_demo(folder)
    except DemoError as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"copied the demo workshop to {folder} (invented records)")
    for reader in READERS:
        target = folder / REPORTS / f"{reader}.pdf"
        write(target, _made(folder, Request(reader), Narrowing(), ".pdf"), force=True)
        click.echo(f"wrote {target}")
