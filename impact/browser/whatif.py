"""The page of what if: one part and its workshop with a few things moved, beside what is recorded; nothing is written.

Keeping what was moved as a setting is a step of its own, and for settings alone: what a batch took stays as it was logged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from impact.base.files import OutputError
from impact.base.problems import Problem, ProblemsError, sentences
from impact.base.spellings import UnitError
from impact.base.units import parse_number
from impact.browser.figures import composed
from impact.browser.guards import RefusedError, say
from impact.browser.pages import Page
from impact.browser.served import served
from impact.browser.setup.partlist import PartsText
from impact.browser.setup.tomltext import Change, NoChangeError, changed
from impact.browser.setup.writer import save
from impact.decisions.scenario import NoComparisonError
from impact.decisions.supposed import Standing, Supposed, split, standing, suppose
from impact.factors.values import FATES
from impact.findings.verdicts import verdict_said
from impact.records.tomlslips import FILE
from impact.tables.table import UnreadableError, read_text

if TYPE_CHECKING:
    from impact.account.results import Interval, PartResult, Results
    from impact.base.printing import Printer
    from impact.study import Study

blueprint = Blueprint("whatif", __name__)
PAGE = Page("What if", "/what-if", blueprint)

MOST_TIMES = 1000.0
"""Most that a percentage of now may be; our own choice. [%]"""


@dataclass
class Lever:
    """One thing that may be moved.

    Attributes
    ----------
    key, label, why, unit : str
        Its name in the form; how it is called; what moving it means; its unit.
    now : str
        What is recorded.
    typed : str
        What stands in the field.
    choices : sequence of (str, str)
        What may be chosen.
    fault : str
        What is wrong with what was typed.
    """

    key: str
    label: str
    why: str
    now: str
    unit: str = ""
    typed: str = ""
    choices: Sequence[tuple[str, str]] = ()
    fault: str = ""
    most: float = 100.0
    kept: str = ""

    @property
    def moved(self) -> bool:
        """Whether something else stands there than what is recorded."""
        return bool(self.typed) and self.typed != self.now and not self.fault

    @property
    def number(self) -> float:
        """What stands in the field as a number."""
        return parse_number(self.typed)[0]


@dataclass(frozen=True)
class Board:
    """What may be moved of one part, and what is recorded.

    Attributes
    ----------
    part, grade : str
        The part, and the paper whose fate may be moved.
    standing : Standing
        What is recorded.
    groups : sequence of (str, list of Lever)
        What may be moved, under headings.
    """

    part: str
    grade: str
    standing: Standing
    groups: list[tuple[str, list[Lever]]]

    def levers(self) -> dict[str, Lever]:
        """Return all by their names."""
        return {one.key: one for _, levers in self.groups for one in levers}


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g}"


def _board(study: Study, asked: Mapping[str, str]) -> Board:
    parts = [part.part for part in study.parts if part.footprint is not None]
    if not parts:
        raise RefusedError(409, "No part has a good one on record yet: log a batch first.")
    part = asked.get("part", "")
    part = part if part in parts else max(study.parts, key=lambda one: one.good).part
    grades = sorted({line.item.partition("|")[0] for line in study.diverted_matrix.lines})
    grade = asked.get("grade", "") if asked.get("grade", "") in grades else (grades[0] if grades else "")
    try:
        now = standing(study, part, [grade] if grade else [])
    except NoComparisonError as error:
        raise RefusedError(409, f"{error}.") from None
    groups = _groups(study, part, grade, now)
    for levers in (levers for _, levers in groups):
        for one in levers:
            _take(one, asked)
    board = Board(part, grade, now, groups)
    _check_shares(board)
    return board


def _groups(study: Study, part: str, grade: str, now: Standing) -> list[tuple[str, list[Lever]]]:
    workshop, names = study.workshop, study.names
    mould = workshop.parts[part].mould
    region = workshop.electricity or workshop.country
    grids = [(one, label or one) for one, label in {**names.countries, **names.regions}.items()]
    making = [
        Lever("drying", "Hours of drying", f"of the hours that it takes now, at {now.drying_kwh:.3g} kWh for a good part", "100", "%", most=MOST_TIMES),
        Lever("dose", "Binder", "dry binder to dry fibre, in the batches that have any", _percent(now.dose), "%"),
        Lever("life", "Life of the mould", f"pressings of {mould} before it is worn out", f"{now.pressings:.10g}", "pressings", most=1e6, kept="a setting of the mould"),
        Lever("grid", "Electricity", "the grid that the workshop is on", region, choices=sorted(grids, key=lambda pair: pair[1].casefold()), kept="a setting of the workshop"),
    ]  # fmt: skip
    ends = [
        Lever(f"end.{fate}", fate.capitalize(), "", _percent(share), "%", kept="a setting: where parts end")
        for fate, share in zip(FATES, now.ends, strict=True)
    ]
    groups = [("Making", making), ("Where finished parts end; adds up to 100 %", ends)]
    if grade:
        fates = [
            Lever(f"fate.{fate}", fate.capitalize(), "", _percent(share), "%", kept="a setting: where the paper would have gone")
            for fate, share in zip(FATES, now.fates[grade], strict=True)
        ]  # fmt: skip
        label = names.grades.get(grade) or grade
        groups.append((f"Where {label} would have gone, where no batch says it; adds up to 100 %", fates))
    if workshop.parts[part].polymer:
        share = "" if now.displacement is None else _percent(now.displacement)
        why = "of the good parts that really take a plastic part's place"
        groups.append(("Plastic", [Lever("displaced", "Displacement", why, share, "%", kept="a column of the part")]))
    return groups


def _take(lever: Lever, asked: Mapping[str, str]) -> None:
    """Take what was asked for into a field, with what is wrong with it."""
    lever.typed = " ".join(asked.get(lever.key, lever.now).split()) or lever.now
    if lever.choices:
        if lever.typed not in dict(lever.choices):
            lever.typed = lever.now
        return
    if lever.typed == lever.now:
        return
    try:
        value, rest = parse_number(lever.typed)
    except UnitError as error:
        lever.fault = f"{error.reason}; accepted: {error.accepted}"
        return
    least = 1.0 if lever.key == "life" else 0.0
    if rest not in ("", lever.unit) or not least <= value <= lever.most:
        lever.fault = f"accepted: a number from {least:g} to {lever.most:g}"


def _check_shares(board: Board) -> None:
    """Mark shares that were moved and do not add up."""
    for start in ("end.", "fate."):
        group = [one for key, one in board.levers().items() if key.startswith(start)]
        if any(one.moved for one in group) and not any(one.fault for one in group):
            total = sum(one.number for one in group)
            if abs(total - 100.0) > 0.5:
                group[0].fault = f"the four add up to {total:g} %; accepted: 100 %"


def _moved(board: Board, start: str) -> tuple[float, ...] | None:
    """Return the shares of a group of which one was moved, made to add up; None where none was."""
    group = [one for key, one in board.levers().items() if key.startswith(start)]
    if not any(one.moved for one in group):
        return None
    total = sum(one.number for one in group)
    return tuple(one.number / total for one in group)


def _supposed(board: Board) -> Supposed:
    levers = board.levers()

    def number(key: str, scale: float = 1.0) -> float | None:
        lever = levers.get(key)
        return scale * lever.number if lever is not None and lever.moved else None

    ends, fates = _moved(board, "end."), _moved(board, "fate.")
    return Supposed(
        drying=number("drying", 0.01),
        pressings=number("life"),
        region=levers["grid"].typed if levers["grid"].moved else None,
        dose=number("dose", 0.01),
        ends=split(ends) if ends else None,
        fates={board.grade: split(fates)} if fates else {},
        displacement=number("displaced", 0.01),
    )


# -- before and after ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Line:
    """One figure before and after."""

    label: str
    before: str
    after: str

    @property
    def same(self) -> bool:
        """Whether both read alike."""
        return self.before == self.after


def _lines(before: Results, after: Results, part: str, printer: Printer) -> list[Line]:
    def one(results: Results) -> PartResult:
        return next(found for found in results.parts if found.part == part)

    def told(figure: Interval | None, kind: str) -> str:
        return printer.whole(figure, kind) if figure is not None else "–"

    was, now = one(before), one(after)
    sides = [(was, before), (now, after)]
    plastic = [told(found.plastic.footprint if found.plastic else None, "per part") for found, _ in sides]
    chance = [
        printer.figure(found.chance_lower, "chance") if found.chance_lower is not None else "–" for found, _ in sides
    ]
    verdict = [verdict_said(found).say(printer) for found, _ in sides]
    return [
        Line("Our part", *(told(found.footprint, "per part") for found, _ in sides)),
        Line("Plastic part", *plastic),
        Line("Chance that ours is the lower", *chance),
        Line("Verdict", *verdict),
        Line("Net account of the period", *(told(results.net, "account") for _, results in sides)),
    ]  # fmt: skip


def _shown(asked: Mapping[str, str]) -> dict[str, Any]:
    reading = served().read()
    study = served().study()
    if study is None:
        return {"board": None, "problems": sentences(reading.problems), "lines": [], "asked": asked}
    board = _board(study, asked)
    faults = any(one.fault for one in board.levers().values())
    moved = [one for one in board.levers().values() if one.moved]
    problems: list[str] = []
    after: Results = study
    if moved and not faults:
        try:
            after = suppose(study, board.part, _supposed(board), board.standing)
        except ProblemsError as error:
            problems = sentences(error.problems)
    printer = composed(study).figures[1]
    parts = [(one.part, printer.name("part", one.part)) for one in study.parts if one.footprint is not None]
    grades = sorted({line.item.partition("|")[0] for line in study.diverted_matrix.lines})
    return {
        "board": board,
        "lines": _lines(study, after, board.part, printer),
        "moved": moved,
        "kept": [one for one in moved if one.kept],
        "faults": faults,
        "problems": problems,
        "parts": parts,
        "grades": [(one, study.names.grades.get(one) or one) for one in grades],
        "asked": {key: one.typed for key, one in board.levers().items()} | {"part": board.part, "grade": board.grade},
    }


@blueprint.get("")
def show() -> str:
    """Show what may be moved, and what comes of it."""
    return render_template("whatif.html", **_shown(request.args.to_dict()))


@blueprint.get("/now")
def now() -> str:
    """Give what comes of it alone."""
    return render_template("whatif-now.html", **_shown(request.args.to_dict()))


# -- kept as settings ------------------------------------------------------------------------------------------------


@blueprint.get("/keep")
def keeping() -> str:
    """Show what would be kept, and what cannot be."""
    shown = _shown(request.args.to_dict())
    if shown["board"] is None or shown["faults"]:
        return render_template("whatif.html", **shown)
    return render_template("whatif-keep.html", **shown, refused=[])


@blueprint.post("/keep")
def keep() -> Answer | tuple[str, int]:
    """Keep what was moved as settings."""
    shown = _shown(request.form.to_dict())
    board: Board | None = shown["board"]
    if board is None or shown["faults"] or not shown["kept"]:
        raise RefusedError(409, "There is nothing to keep: nothing that is a setting was moved.")
    try:
        with served().writing():
            problems = _kept(board)
    except (NoChangeError, UnreadableError) as error:
        raise RefusedError(409, f"{error}.") from None
    except (OutputError, OSError) as error:
        raise RefusedError(507, f"The folder could not be written: {error}. Nothing was changed.") from None
    if any(one.level == "error" for one in problems):
        return render_template("whatif-keep.html", **shown, refused=sentences(problems)), 422
    say("Kept as settings. What was only supposed before now stands in every figure.")
    for line in sentences(problems):
        say(f"Doubted: {line}")
    return redirect(url_for("whatif.show", part=board.part), 303)


def _kept(board: Board) -> tuple[Problem, ...]:
    path, levers = served().path, board.levers()
    workshop = served().read().workshop
    if workshop is None:
        raise NoChangeError("the settings have faults, which Set-up shows")
    mould, changes = workshop.parts[board.part].mould, []
    if levers["life"].moved:
        changes.append(Change(("moulds", mould, "pressings"), round(levers["life"].number)))
    if levers["grid"].moved:
        changes.append(Change(("workshop", "electricity"), levers["grid"].typed))
    for start, table in (("end.", ("end_of_life",)), ("fate.", ("fates", board.grade))):
        shares = _moved(board, start)
        if shares is not None:  # which add up, as those that were shown
            changes += [
                Change((*table, fate), f"{100.0 * one:.10g} %") for fate, one in zip(FATES, shares, strict=True)
            ]
            changes.append(Change((*table, "evidence"), None))  # how the old shares were known says nothing of the new
    files = {}
    if changes:
        files[FILE] = changed(read_text(path / FILE, accepted="the settings"), changes).encode()
    displaced = levers.get("displaced")
    if displaced is not None and displaced.moved:
        cells = {"displacement": f"{displaced.number:g} %", "displacement evidence": ""}
        files["parts.csv"] = PartsText.of(path).with_part(board.part, cells)
    return save(path, files, today=served().now().date(), before=served().read().problems).problems
