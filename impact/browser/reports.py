"""The page of reports: each kind made while one waits, doubts first, and downloaded; a PDF checked by dropping it in."""

from __future__ import annotations

import io
import logging
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Lock, Thread
from typing import TYPE_CHECKING, Any, cast

from flask import Blueprint, Response, current_app, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response as Answer

from impact.base.problems import ProblemsError, sentences
from impact.browser.figures import WHOLE, grant_asked
from impact.browser.guards import RefusedError
from impact.browser.pages import Page
from impact.browser.served import served
from impact.report.kinds import KINDS, LANGUAGES, Kind

if TYPE_CHECKING:
    from pathlib import Path

    from impact.report.production import Narrowing
    from impact.report.request import Request
    from impact.report.verification import Verification

EXTENSION = "impact-jobs"
LARGEST_PDF = 50_000_000
"""Most that a PDF to be checked may hold. [bytes]"""

KEPT = 8
"""Reports and checks that are kept in memory, the last ones; our own choice."""
WAITING = 4
"""Reports and checks that may wait at once; our own choice."""

FORMATS = {".pdf": "application/pdf", ".html": "text/html"}
blueprint = Blueprint("reports", __name__)
PAGE = Page("Reports", "/reports", blueprint, limit=LARGEST_PDF + 100_000)


@dataclass
class Job:
    """Something that takes long: a report that is made, or a PDF that is checked.

    Attributes
    ----------
    title : str
        What it is.
    steps : sequence of str
        What is done one after the other.
    at : int
        The step that is being done, from 0.
    name : str
        Name of the file that comes of it.
    content : bytes
        The file.
    notes, problems : list of str
        What is to be known of it, doubts first; what kept it from being done.
    found : Verification or None
        What a check found.
    done : bool
        Whether it has ended.
    thread : Thread or None
        Where it is worked on.
    """

    title: str
    steps: tuple[str, ...]
    at: int = 0
    name: str = ""
    content: bytes = b""
    doubts: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    found: Verification | None = None
    done: bool = False
    thread: Thread | None = None


@dataclass
class Jobs:
    """The jobs of the running program; one is worked on at a time."""

    by_key: dict[str, Job] = field(default_factory=dict)
    lock: Lock = field(default_factory=Lock)

    def start(self, job: Job, work: Callable[[Job], None]) -> str:
        """Start a job and return its key.

        Raises
        ------
        RefusedError
            Too many wait.
        """
        if sum(not one.done for one in self.by_key.values()) >= WAITING:
            raise RefusedError(429, f"{WAITING} reports are being made or checked already. Wait for one of them.")
        key = secrets.token_urlsafe(12)
        self.by_key[key] = job
        for old in [one for one in self.by_key if self.by_key[one].done][: max(len(self.by_key) - KEPT, 0)]:
            del self.by_key[old]
        job.thread = Thread(target=self._run, args=(job, work), daemon=True)
        job.thread.start()
        return key

    def _run(self, job: Job, work: Callable[[Job], None]) -> None:
        with self.lock:
            try:
                work(job)
            except ProblemsError as error:
                job.problems = sentences(error.problems)
            except Exception as error:  # told on the page: there is nobody else to tell it to
                job.problems = [_reason(error)]
            finally:
                job.done = True


def _reason(error: Exception) -> str:
    from impact.report.layout.pdf import RenderError
    from impact.report.proof.carried import NoReportError
    from impact.report.request import NothingToSayError

    if isinstance(error, RenderError | NothingToSayError | NoReportError | ValueError):
        return f"{error}"
    logging.getLogger(__name__).error("a job failed", exc_info=error)
    return "Something went wrong in the program. Nothing that was saved before is lost."


def _jobs() -> Jobs:
    return cast(Jobs, current_app.extensions.setdefault(EXTENSION, Jobs()))


# -- a report --------------------------------------------------------------------------------------------------------


@blueprint.get("")
def show() -> str:
    """Show every kind of report, and the doubts first."""
    from impact.base.locale import language_name
    from impact.report.layout.pango import absence

    reading = served().read()
    workshop = reading.workshop
    study = served().study()
    made = [one.part for one in study.parts] if study else []
    return render_template(
        "reports.html", kinds=list(KINDS.values()), usual={kind.name: _usual_language(kind) for kind in KINDS.values()},
        languages={name: language_name(name) for name in LANGUAGES}, parts=made, problems=sentences(reading.problems),
        ready=study is not None, grants=[one.name for one in workshop.grants] if workshop else [],
        grant=_usual_grant(), no_pdf=absence(), largest=LARGEST_PDF // 1_000_000, none=WHOLE,
    )  # fmt: skip


def _usual_language(kind: Kind) -> str:
    """Return the language of a kind of report where none is asked for."""
    from impact.report.request import usual_language

    workshop = served().read().workshop
    return usual_language([workshop.country], kind.languages, kind.whom).language if workshop else kind.languages[0]


def _usual_grant() -> str | None:
    try:
        return grant_asked(served())
    except ProblemsError:
        return None


@blueprint.post("/make")
def make() -> Answer:
    """Start to make a report."""
    kind = KINDS.get(request.form.get("kind", ""))
    if kind is None:
        raise RefusedError(400, f"There is no such report. Accepted: {', '.join(KINDS)}.")
    suffix = request.form.get("format", ".pdf")
    if suffix not in FORMATS:
        raise RefusedError(400, "A report is made as PDF or as HTML.")
    asked, counted = _asked(kind, request.form)
    folder = served().path
    name = f"{kind.name}{'-brief' if asked.brief else ''}{suffix}"
    job = Job(
        f"The report for {kind.whom}",
        ("reading the records", "working out the figures", "laying out the pages"),
        name=name,
    )
    return _started(job, lambda job: _make(job, folder, asked, counted, suffix))


def _started(job: Job, work: Callable[[Job], None]) -> Answer:
    return redirect(url_for("reports.job", key=_jobs().start(job, work)), 303)


def _asked(kind: Kind, sent: Mapping[str, str]) -> tuple[Request, Narrowing]:
    """Return what a form asks for, or refuse it."""
    from impact.report.production import Narrowing
    from impact.report.request import Request

    language = sent.get("language") or _usual_language(kind)
    if language not in kind.languages:
        raise RefusedError(400, f"This report is not written in that language. Accepted: {', '.join(kind.languages)}.")
    numbers: dict[str, int] = {}
    for question in kind.questions:
        typed = sent.get(question.name, "").strip()
        if typed and not (typed.isdecimal() and 1 <= int(typed[:9]) <= question.most and len(typed) < 9):
            raise RefusedError(400, f"{question.meaning}: a whole number from 1 to {question.most} is accepted.")
        numbers |= {question.name: int(typed)} if typed else {}
    left_out = ("notes",) * ("notes" not in sent) + ("people",) * ("people" in sent)
    part = sent.get("part") or None
    try:
        grant = grant_asked(served()) if kind.granted else None
    except ProblemsError as error:
        raise RefusedError(400, " ".join(sentences(error.problems))) from None
    brief = "brief" in sent and kind.granted
    return Request(kind.name, language, part if kind.one_part else None, left_out, numbers, None, brief), Narrowing(
        grant=grant
    )


def _make(job: Job, folder: Path, asked: Request, counted: Narrowing, suffix: str) -> None:
    from impact.report.production import prepare

    job.at = 1
    product = prepare(folder, asked, counted)
    job.doubts = sentences(product.report.results.warnings)
    job.at = 2
    job.content = product.content(suffix)
    lacking = product.lacking(suffix)
    if lacking is not None:
        job.notes.append(f"{lacking}.")
    if counted.grant is not None:
        job.notes.append(f"Counted for the grant {counted.grant} alone.")
    if suffix == ".pdf":
        job.notes.append(
            f"It carries the records, {len(product.carried)} files in all: whoever has it can make it again."
        )
    job.at = 3


# -- a check ---------------------------------------------------------------------------------------------------------


@blueprint.post("/check")
def check() -> Answer:
    """Start to check a PDF. It is read from memory and kept under no name."""
    sent = request.files.get("report")
    content = sent.read(LARGEST_PDF + 1) if sent else b""
    if not content:
        raise RefusedError(400, "Choose a report first: the PDF that is to be checked.")
    if len(content) > LARGEST_PDF:
        raise RefusedError(
            413, f"This file is larger than {LARGEST_PDF // 1_000_000} MB, and no report of this program is."
        )
    if not content.startswith(b"%PDF-"):
        raise RefusedError(400, "This is no PDF. Only a report that was written as PDF carries its records.")
    job = Job(
        "The check of a report", ("reading what the file carries", "making the report again", "comparing the two")
    )
    return _started(job, lambda job: _check(job, content))


def _check(job: Job, content: bytes) -> None:
    from impact.report.verification import verify

    logging.getLogger("pypdf").setLevel(logging.CRITICAL + 1)  # what it says of a damaged file, the error says again
    job.at = 1
    job.found = verify(content)
    job.at = 3


# -- the job ---------------------------------------------------------------------------------------------------------


def _job(key: str) -> Job:
    found = _jobs().by_key.get(key)
    if found is None:
        raise RefusedError(404, "This report is not kept any more. Make it again.")
    return found


def _told(key: str) -> dict[str, Any]:
    found = _job(key)
    compared = []
    if found.found is not None:
        compared = [
            (f"{one.agree:,} of {one.of:,}", words)
            for words, one in (
                ("attached files are as they are made again", found.found.files),
                ("attached results come out of the attached records", found.found.results),
                ("figures on the pages are those results", found.found.pages),
            )
            if one.of
        ]
    return {"key": key, "job": found, "compared": compared}


@blueprint.get("/<key>")
def job(key: str) -> str:
    """Show how far a job is, and what came of it."""
    return render_template("job.html", **_told(key))


@blueprint.get("/<key>/now")
def now(key: str) -> Answer:
    """Give how far it is alone."""
    told = _told(key)
    answer = Response(render_template("job-now.html", **told))
    answer.headers["X-Done"] = "yes" if told["job"].done else "no"
    return answer


@blueprint.get("/<key>/file")
def file(key: str) -> Answer:
    """Give the report."""
    found = _job(key)
    if not found.content:
        raise RefusedError(404, "This report is not made yet.")
    suffix = f".{found.name.rpartition('.')[2]}"
    return send_file(io.BytesIO(found.content), mimetype=FORMATS[suffix], as_attachment=True, download_name=found.name)
