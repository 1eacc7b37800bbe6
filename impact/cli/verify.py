"""The command `verify`."""

from __future__ import annotations

import json
import logging
from pathlib import Path

import click

from impact.cli.terminal import JSON, SHOWN


@click.command()
@click.argument("report", type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="Show every disagreement; else twenty are shown.")
@JSON
def verify(report: Path, everything: bool, as_json: bool) -> None:
    """Make a report again from what is inside it, and compare the two.

    The last line says what was proved. Exit status 1 unless every page was. Example: impact verify funder.pdf
    """
    from impact.base.files import NotRegularError, read_regular
    from impact.base.processes import helper
    from impact.base.serial import plain
    from impact.report.kinds import KINDS, drawing, reading
    from impact.report.proof.carried import LARGEST, NoReportError
    from impact.report.verification import verify as compare

    logging.getLogger("pypdf").setLevel(logging.CRITICAL + 1)  # what it says of a damaged file, the error says again
    try:
        content = read_regular(report, limit=LARGEST)
        usual = next(iter(KINDS))
        with helper(*drawing(usual), meanwhile=reading(usual)) as do:
            found = compare(content, do)
    except NotRegularError as error:
        raise click.ClickException(f"{report}: {error.reason}") from None
    except NoReportError as error:
        hint = "" if report.suffix.lower() == ".pdf" else "; only a report that was written as PDF carries its records"
        raise click.ClickException(f"{report}: {error}{hint}") from None
    if as_json:
        click.echo(json.dumps(plain(found), ensure_ascii=False))
    else:
        for words, (agree, of) in (
            ("attached files are as they are made again", found.files),
            ("attached results come out of the attached records", found.results),
            ("figures on the pages are those results", found.pages),
        ):
            if of:
                click.echo(f"{agree:,} of {of:,} {words}")
        shown = found.disagreements if everything else found.disagreements[:SHOWN]
        for one in shown:
            click.echo(str(one), err=True)
        if len(shown) < len(found.disagreements):
            click.echo(f"… and {len(found.disagreements) - len(shown)} more; `impact verify --all` shows all", err=True)
        click.echo(f"{report}: {found.words}")
    if not found.holds:
        raise SystemExit(1)
