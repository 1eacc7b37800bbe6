"""A workbook of batches taken over to a table that pages can add to: asked first, once, and the workbook is kept."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for

from impact.base.files import OutputError, passing_folder, write
from impact.base.problems import counted
from impact.browser.doubts import copy_settings
from impact.browser.entering import Answer, alone, entering, key_of, now_text
from impact.browser.guards import RefusedError, say
from impact.browser.journal import Entry
from impact.browser.logtable import FILE
from impact.browser.pages import Page
from impact.browser.served import HISTORY, Reading, Served, read_at, served
from impact.records.batches import header_words, read_table
from impact.records.files import choose_file, reading_settings
from impact.report.evidence import as_csv
from impact.tables.table import UnreadableError

blueprint = Blueprint("takeover", __name__)
PAGE = Page("", "/takeover", blueprint)


def waiting(where: Served) -> str | None:
    """Return the name of the workbook that holds the batches, None where a table does or nothing yet."""
    path, problem = choose_file(where.path, "batches")
    return path.name if path.suffix == ".xlsx" and problem is None and path.exists() else None


@blueprint.post("")
@alone
def take() -> Answer:
    """Write the rows of the workbook as a table, and keep the workbook in the folder of the journal."""
    where, key = served(), key_of()
    to = url_for("bench.bench")
    name = waiting(where)
    if name is None:  # it was taken over by another device
        return redirect(to, 303)
    content = _converted(where)
    kept = where.path / HISTORY / f"batches-{where.now():%Y-%m-%d-%H%M%S}.xlsx"
    where.journal.repair()
    answer = entering(where, Entry(key, now_text(where), "takeover", data={"workbook": kept.name}), to)
    try:
        # The table first: whoever is stopped in between has both, and `finish` puts the workbook away.
        write(where.path / FILE, content)
    except OutputError as error:
        raise RefusedError(507, f"{error}. The workbook stays as it is.") from None
    (where.path / name).rename(kept)
    say(f"The batches stand in {FILE} now. The workbook is kept as {HISTORY}/{kept.name}.")
    return answer


def finish(where: Served) -> None:
    """Put a workbook away whose rows were taken over, where the program was stopped before it could; under the lock."""
    workbook = where.path / "batches.xlsx"
    for entry in where.journal.entries if workbook.exists() and (where.path / FILE).exists() else ():
        kept = where.path / HISTORY / str(entry.data.get("workbook", ""))
        if entry.kind == "takeover" and kept.name != HISTORY and not kept.exists():
            workbook.rename(kept)
            return


def _converted(where: Served) -> bytes:
    """Return the table of the workbook's rows, once it is proved that the same is read from both."""
    reading, records = where.read(), reading_settings(where.path)
    try:
        content = as_csv(read_table(where.path, records, header_words(reading.names)), records)
    except UnreadableError as error:
        raise RefusedError(409, f"The workbook cannot be taken over: {error}") from None
    if reading.folder is not None and not _alike(where, reading, content):
        raise RefusedError(
            409,
            "The workbook cannot be taken over: its rows are not the same as a table. Save it as CSV in your spreadsheet.",
        )
    return content


def _alike(where: Served, reading: Reading, content: bytes) -> bool:
    """Return whether a table gives the batches that the folder gives."""
    assert reading.folder is not None
    with passing_folder() as folder:
        copy_settings(where.path, folder)
        (folder / FILE).write_bytes(content)
        found = read_at(folder, where.now().date()).folder
        if found is None:
            return False
        before, after = (one.batches.drop(columns="sheet", errors="ignore") for one in (reading.folder, found))
    return bool(before.equals(after))


def told(where: Served) -> str:
    """Return the question, with what stands in the workbook."""
    reading = where.read()
    count = len(reading.folder.batches) if reading.folder is not None else 0
    return render_template("takeover.html", workbook=waiting(where), rows=counted(count, "batch"))
