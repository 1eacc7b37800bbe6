"""The command that serves a workshop folder as pages for a browser: thin, one call."""

from __future__ import annotations

from pathlib import Path

import click

from impact.cli.terminal import FOLDER, OneLine


@click.command(name="open")
@FOLDER
@click.option("--lan", is_flag=True, help="Let other devices of the network in, by a code; else this machine alone.")
@click.option("--guest", is_flag=True, help="Show the figures alone: whoever comes in can change nothing.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8420, show_default=True, help="Port; 0 takes a free one."
)
@click.option("--no-browser", is_flag=True, help="Do not open the browser of this machine.")
def open_pages(folder: Path, lan: bool, guest: bool, port: int, no_browser: bool) -> None:
    """Serve FOLDER as pages for a browser, here or on a phone.

    The folder stays where it is and keeps its files; a folder that is not there yet is made by questions. Ctrl-C or the
    button `Stop` ends it.

    Example: impact open my-workshop --lan
    """
    from impact.base.processes import last
    from impact.browser.address import AddressError, open_door
    from impact.browser.guards import Sessions
    from impact.browser.server import application
    from impact.records.files import workshops_in

    if folder.exists() and not folder.is_dir():
        raise click.UsageError(f"{folder} is a file; name the folder that holds it.")
    inner = workshops_in(folder) if folder.exists() else []
    if inner:
        raise click.UsageError(f"{folder} is a folder of workshops; name one: {', '.join(one.name for one in inner)}.")
    last()
    with OneLine(AddressError):
        door = open_door(port, lan=lan)
    sessions = Sessions()
    app = application(folder, hosts=door.hosts, guest=guest, sessions=sessions, stop=door.stop)
    address = f"http://{door.address}"
    with_code = f"{address}/enter?code={sessions.code}"
    _tell(folder, address, with_code, sessions.shown_code, lan=lan, guest=guest)
    if not no_browser:
        import webbrowser

        webbrowser.open(with_code)
    door.serve(app)
    click.echo(f"stopped; everything is in {folder.resolve()}")


def _tell(folder: Path, address: str, with_code: str, code: str, *, lan: bool, guest: bool) -> None:
    """Print where the pages and the folder are, and how another device comes in."""
    click.echo(f"folder:  {folder.resolve()}")
    click.echo(f"pages:   {address}{' (figures alone)' if guest else ''}")
    click.echo(f"code:    {code}")
    if lan:
        import segno

        click.echo("\nFor a phone in the same network, to scan:\n")
        segno.make(with_code, error="l").terminal(compact=True)
        click.echo("Nothing is encrypted on the way: whoever shares this network can read along, the code too.")
    click.echo("To stop: Ctrl-C here, or the button on the pages.")
