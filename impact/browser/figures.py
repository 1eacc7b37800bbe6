"""The page of figures: the first page of the funder report as the records stand now; each figure opens how it came about."""

from __future__ import annotations

import hashlib
from collections.abc import Container, Sequence
from dataclasses import dataclass, field
from functools import cache
from threading import RLock
from typing import TYPE_CHECKING, Any, cast
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, make_response, render_template, request
from markupsafe import Markup
from werkzeug.wrappers import Response as Answer

from impact.base.problems import ProblemsError, sentences
from impact.base.serial import plain
from impact.browser.bars import rows_of
from impact.browser.guards import RefusedError
from impact.browser.pages import Page
from impact.browser.served import Served, served
from impact.report.ties import Ties

if TYPE_CHECKING:
    from impact.core.node import Node
    from impact.report.context import Report
    from impact.report.funder.content import Funder
    from impact.report.funder.decisions import KnownSteps
    from impact.study import Study

WHOLE = "none"
"""What asks for all the work where a grant would be counted, as the command has it."""

UNTAGGED = ' style="font-kerning:none;font-variant-ligatures:none"'
"""An attribute of charts that the pages set in their style sheet, because no page may hold a style."""

EXTENSION = "impact-figures"
blueprint = Blueprint("figures", __name__)
PAGE = Page("Figures", "/figures", blueprint, guests=True)


class LinkedTies(Ties):
    """Prints figures by name, each as a link to how it came about where that is known.

    Parameters
    ----------
    values, printer
        As of `Ties`.
    explained : container of str
        Members of the document whose figures have a derivation.
    grant : str
        The grant that is counted, to be kept in links; blank for none.
    """

    def __init__(self, values: Any, printer: Any, explained: Container[str], grant: str) -> None:
        super().__init__(values, printer)
        self.explained, self.grant = explained, grant

    def __call__(self, name: str, *, unit: bool = False) -> Markup:
        """Return the element that holds a figure, as `Ties` does."""
        found = super().__call__(name, unit=unit)
        if self.values[name] is None or name.partition(".")[0] not in self.explained:
            return found
        asked = {"of": name, **({"grant": self.grant} if self.grant else {})}
        return Markup('<a class="figure" href="/figures/why?{}">{}</a>').format(urlencode(asked), found)

    def held(self, names: Sequence[str], form: str, *, whole: bool = False) -> Markup:
        """Return several figures, each in its own element, because each has its own way to come about."""
        shown = Markup(form).format(*map(self, names))
        return Markup('<span class="whole">{}</span>').format(shown) if whole else shown


@dataclass
class FirstPages:
    """What is kept of the figures from one change of the records to the next."""

    lock: RLock = field(default_factory=RLock)
    report: Report | None = None
    _settled: object = None
    _steps: dict[str, KnownSteps] = field(default_factory=dict)
    _shown: dict[str, tuple[Study, Markup]] = field(default_factory=dict)
    _derived: tuple[Study, dict[str, Node]] | None = None

    def shown(self, study: Study, grant: str, settled: object) -> Markup:
        """Return the first page of results, for a grant or for all; `settled` changes with settings and factors."""
        with self.lock:
            steps = self.known(grant, settled)
            shown = self._shown.get(grant)
            if shown is None or shown[0] is not study:
                shown = self._shown[grant] = (study, _first_page(study, grant, steps))
            return shown[1]

    def known(self, grant: str, settled: object) -> KnownSteps:
        """Return what is known of the steps of a grant, or of all the work; arguments as of `shown`."""
        from impact.report.funder.decisions import KnownSteps

        if settled != self._settled:
            self._settled, self._steps, self._shown = settled, {}, {}
        return self._steps.setdefault(grant, KnownSteps())

    def derivations(self, study: Study) -> dict[str, Node]:
        """Return how every figure of results came about."""
        from impact.trace.explanation import derivations

        with self.lock:
            if self._derived is None or self._derived[0] is not study:
                self._derived = (study, derivations(study))
            return self._derived[1]


def _pages() -> FirstPages:
    return cast(FirstPages, current_app.extensions.setdefault(EXTENSION, FirstPages()))


@cache
def _templates(language: str) -> Any:
    from impact.report.html import environment, picture

    def shown(what: Any, said: str = "", narrow: Any = None) -> str:
        return what if isinstance(what, Markup) else picture(what, said, narrow, inlined=True)

    return environment(language, shown)


def _composed(study: Study, known: KnownSteps) -> tuple[Report, Funder]:
    """Return the funder report of results, whose break-even points are left out, and its content."""
    from impact.report.context import SCHEMA, Report
    from impact.report.funder.content import Funder
    from impact.report.request import Request

    asked = Request(brief=True)
    content = Funder(study, asked, known=known)
    return Report(asked, study, {**study.as_figures, "schema": SCHEMA, **content.figures}, content), content


def composed(study: Study) -> Report:
    """Return the funder report of results without its break-even points: what prints figures as that report does."""
    pages = _pages()
    with pages.lock:
        if pages.report is None or pages.report.results is not study:
            pages.report = _composed(study, pages.known("", served().settled))[0]
        return pages.report


def _first_page(study: Study, grant: str, known: KnownSteps) -> Markup:
    """Return the first page of the funder report, its parts as rows in place of a chart."""
    from impact.base.language import catalogue_of
    from impact.report.html import settled

    report, content = _composed(study, known)
    values, printer = report.figures
    tie = LinkedTies(values, printer, study.as_figures, grant)
    templates = _templates(catalogue_of("en", study.workshop.country))
    data = {**report.known(printer, tie), **content.first_page(printer, tie), "rows": rows_of(study.parts)}
    bars = Markup(templates.get_template("browser/bars.html").render(**data)) if data["rows"] else ""
    drawn = {"flow_first": False, "footprints_chart": bars, "footprints_narrow": None, "footprints_alternative": ""}
    return Markup(settled(templates.get_template("browser/firstpage.html").render(**data, **drawn)))


def grant_asked(found: Served) -> str | None:
    """Return the grant that the figures count: the one asked for, else the only one, as the report for a funder does."""
    reading, asked = found.read(), request.values.get("grant", "")
    if reading.folder is None or asked == WHOLE:
        return None
    if asked:
        chosen, _ = reading.folder.days_for(asked, None)
        return chosen.name if chosen else None
    usual = reading.folder.usual_grant(period=None, part=None, site=None)
    return usual.name if usual else None


def study_now() -> tuple[Study | None, str | None, list[str]]:
    """Return the results as of now, the grant that they are counted for, and what keeps them from being worked out."""
    found = served()
    reading = found.read()
    try:
        grant = grant_asked(found)
        study = found.study(grant)
    except ProblemsError as error:
        return None, None, sentences(error.problems)
    return study, grant, [] if study else sentences(reading.problems)


def _mark(grant: str | None) -> str:
    """Return what changes with the records, for a page that asks whether they did."""
    return hashlib.blake2b(repr((served().seen, grant)).encode(), digest_size=8).hexdigest()


def _data() -> dict[str, Any]:
    study, grant, problems = study_now()
    page = None if study is None else _pages().shown(study, grant or "", served().settled)
    reading = served().read()
    return {
        "page": page,
        "study": study,
        "grant": grant,
        "grants": [one.name for one in reading.workshop.grants] if reading.workshop else [],
        "problems": problems,
        "doubts": sentences(study.warnings) if study else [],
        "mark": _mark(grant),
    }


@blueprint.get("")
def show() -> str:
    """Show the figures."""
    return render_template("figures.html", **_data())


@blueprint.get("/now")
def now() -> Answer:
    """Give the figures alone where they are others than those that the page shows."""
    data = _data()
    if request.args.get("seen") == data["mark"]:
        return Response(status=204)
    answer = make_response(render_template("figures-now.html", **data))
    answer.headers["X-Mark"] = data["mark"]
    return answer


@blueprint.get("/flow")
def flow() -> str:
    """Show where the paper came from and where it went."""
    from impact.report.funder import flow as drawn

    study, grant, _ = study_now()
    if study is None:
        return render_template("figures.html", **_data())
    report, content = _composed(study, _pages().known(grant or "", served().settled))
    values, printer = report.figures
    title = drawn.title_of_flow(content.flow, Ties(values, printer))
    chart = picture_of(
        drawn.flow_chart(content.flow, printer, tall=drawn.TALL), drawn.flow_alternative(content.flow, printer)
    )
    return render_template("flow.html", title=title, chart=chart, grant=grant)


def picture_of(drawn: str, said: str) -> Markup:
    """Return a chart as an element of a page, without the attribute that a page of ours may not hold."""
    from impact.report.vector import inline

    return Markup(inline(drawn.replace(UNTAGGED, ""), said)) if drawn else Markup("")


@blueprint.get("/why")
def why() -> str:
    """Show how a figure came about."""
    from impact.trace.explanation import chosen, explanation
    from impact.trace.outline import Outline, amount

    study, grant, _ = study_now()
    name = request.args.get("of", "")
    if study is None:
        return render_template("figures.html", **_data())
    known = _pages().derivations(study)
    interval, end = name.rpartition(".")[::2]
    explained, _ = chosen(interval if end in ("value", "low", "high") else name, list(known))
    if name not in known or not explained:
        raise RefusedError(404, "There is no figure of this name.")
    document = plain(explanation(study, explained, known))
    outline, trees = Outline(document["steps"]), []
    for figure in document["figures"]:
        before = len(outline.lines)
        outline.branch(figure["step"], 1)
        told = amount(figure["value"], figure["unit"]), amount(figure["recomputed"], figure["unit"])
        trees.append((figure["figure"], *told, nested(outline.lines[before:])))
    return render_template("why.html", name=interval or name, trees=trees, notes=list(outline.notes), grant=grant)


@dataclass
class Branch:
    """A line of a derivation with those below it."""

    text: str
    below: list[Branch] = field(default_factory=list)


def nested(lines: Any) -> list[Branch]:
    """Return lines with their depth as branches."""
    root = Branch("")
    way = [root]
    for line in lines:
        del way[line.depth :]
        branch = Branch(line.text)
        way[-1].below.append(branch)
        way.append(branch)
    return root.below
