"""The school report: what a term of sessions would take and give, in plain words for a head teacher."""

from __future__ import annotations

from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

from impact.account.assessment import regions_of
from impact.base.defaults import FORECAST_DRAWS
from impact.base.language import translate
from impact.base.printing import Printer
from impact.base.processes import Doing, Job, here
from impact.base.serial import plain
from impact.base.spellings import shown
from impact.decisions.forecast import Forecast, ForecastError, forecast
from impact.decisions.planned import FEWEST, Expected
from impact.decisions.recipes import NONE
from impact.factors.values import generator
from impact.findings.risks import risks
from impact.records.columns import energy_columns
from impact.records.statements import Visit
from impact.report.figurekinds import quantity_of
from impact.report.request import NothingToSayError, Request, part_of
from impact.report.school.chart import ON_PHONE, term_alternative, term_chart, title_of_term
from impact.report.school.session import ALONE, FORESEEN, SHORT, Room, devices_of, one_session, room_of, stated
from impact.report.ties import Ties

if TYPE_CHECKING:
    import pandas as pd

    from impact.study import Study

Direction = Literal["less", "more", "unsure", "rare", "added"]


def term_of(results: Study, request: Request, part: str) -> Forecast | None:
    """Return the forecast of one term as `impact forecast` has it; None when there are too few batches."""
    settings = results.settings
    try:
        return forecast(
            results.workshop,
            results.batch_records,
            results.factors,
            part=part,
            **request.answers,
            rng=generator(settings.seed, "forecast"),
            seed=settings.seed,
            draws=min(settings.draws, FORECAST_DRAWS),
            all_batches=results.all_batches,
            names=results.names,
        )
    except ForecastError:
        return None


def direction(difference: Expected, displacement: float | None = None) -> Direction:
    """Return whether a whole interval of moulded less displaced plastic lies below zero, above it, or neither.

    No range is given where what decides is rare; all is added where no plastic is displaced.
    """
    if difference.rare:
        return "rare"
    if displacement == 0.0 and difference.low > 0.0:
        return "added"
    return "less" if difference.high < 0.0 else "more" if difference.low > 0.0 else "unsure"


def recorded(records: pd.DataFrame) -> dict[str, Any]:
    """Return what the batches of one part record: sums, and the number of batches behind each.

    Parameters
    ----------
    records : DataFrame
        Batches of the part, in canonical columns.
    """
    paper = records[[name for name in records.columns if name.startswith("paper.")]].to_numpy(dtype=float)
    energy = records[energy_columns()].astype(float)
    water, hours = records["water_l"].astype(float), records["hours"].astype(float).dropna()
    pressed = (records["good_parts"].astype(float) + records["rejects"].astype(float).fillna(0.0)).loc[hours.index]
    batch = None
    if len(hours):
        batch = {
            "batches": len(hours),
            "parts": float(pressed.median()),
            "hours": {"value": float(hours.median()), "low": float(hours.min()), "high": float(hours.max())},
        }
    return {
        "batches": len(records),
        "good": float(records["good_parts"].astype(float).sum()),
        "failed_batches": int(records["rejects"].notna().sum()),
        "failed": float(records["rejects"].astype(float).sum()),
        "paper_kg": float(paper.sum()),
        "electricity_kwh": float(energy.sum().sum()),
        "electricity_batches": int(energy[["blending_kwh", "drying_kwh"]].notna().all(axis=1).sum()),
        "water_l": float(water.sum()),
        "water_batches": int(water.notna().sum()),
        "one_batch": batch,
    }


def planned(plan: Forecast) -> dict[str, Any]:
    """Return the figures of a forecast, and the sizes of its carbon gap without sign."""
    gap = plan.difference_kgco2e
    return {
        "batches": plan.batches,
        "draws": plan.draws,
        "good_parts": plain(plan.good_parts),
        "paper_kg": plain(plan.all_paper_kg),
        "kept_from_landfill_kg": plain(plan.diverted_kg),
        "electricity_kwh": plain(plan.electricity_kwh),
        "water_l": plain(plan.water_l),
        "people_hours": plain(plan.people_hours),
        "dryer_hours": plain(plan.dryer_hours),
        "cost": plain(plan.cost),
        "carbon_gap_kgco2e": plain(gap),
        "carbon_gap_size_kgco2e": {end: abs(getattr(gap, end)) for end in ("value", "low", "high")} if gap else None,
        "displacement": plan.displacement,
    }


class School:
    """The content of the school report.

    Attributes
    ----------
    figures : dict
        What is on record for the part, the plan of the term, its forecast where the records suffice and a session's share of
        it, what the workshop states of a session.

    Raises
    ------
    NothingToSayError
        When no batch makes the part asked for, or none of its parts was good.
    """

    def __init__(self, results: Study, request: Request, _do: Doing = here) -> None:
        self.results, self.request = results, request
        self.part = part_of(results, request)
        frame = results.batch_records
        if not any(found.good for found in results.parts if found.part == self.part):
            raise NothingToSayError(
                f"no good part of {self.part} is on record: there is nothing yet to show to a school"
            )
        self.records = frame[frame["part"].astype(str) == self.part]
        self.plan = term_of(results, request, self.part)
        self.devices = devices_of(self.records)
        asked = request.answers
        each_session = asked["people"] * asked["parts_per_person"]
        self.figures: dict[str, Any] = {
            "school": {
                **asked,
                "each_session": each_session,
                "planned": asked["sessions"] * each_session,
                "fewest": FEWEST,
                "recorded": recorded(self.records),
                "term": planned(self.plan) if self.plan else None,
                "session": one_session(self.plan) if self.plan else None,
                "stated": stated(results.workshop, self.devices, asked["people"]),
            }
        }

    def _listed(self, kind: str, used: list[str], style: Literal["standard", "or"], printer: Printer) -> str:
        from babel.lists import format_list

        return format_list([printer.name(kind, name) for name in used], style=style, locale=self.request.language)

    def _ranges(self) -> dict[str, dict[str, float]]:
        """Return every figure that has a range, by its name in the document: of the term, else of a batch."""
        school = self.figures["school"]
        term, batch = school["term"] or {}, school["recorded"]["one_batch"]
        found = {f"school.term.{name}": figure for name, figure in term.items() if isinstance(figure, dict)}
        found.pop("school.term.carbon_gap_size_kgco2e", None)
        return {**found, "school.recorded.one_batch.hours": batch["hours"]} if batch else found

    def _units(self, printer: Printer) -> dict[str, str]:
        """Return the unit behind each figure of the term."""
        found = {
            name.rpartition(".")[2]: printer.unit(quantity_of(f"{name}.value"), figure["value"])
            for name, figure in self._ranges().items()
        }
        return {**found, "cost": self.results.workshop.currency}

    def _alike(self, tie: Ties) -> set[str]:
        """Return the figures whose range has two ends that read the same, which is no range to a reader."""
        read = Ties(tie.values, tie.printer)  # of its own, so that no figure of the page counts as printed twice
        return {
            name.rpartition(".")[2]
            for name in self._ranges()
            if read(f"{name}.low").striptags() == read(f"{name}.high").striptags()
        }

    def _days(self, printer: Printer) -> str:
        """Return the first and the last day of the batches that the page counts, or the one day."""
        days = self.records["date"].astype(str)
        first, last = (
            (self.plan.start, self.plan.end)
            if self.plan
            else (date.fromisoformat(days.min()[:10]), date.fromisoformat(days.max()[:10]))
        )
        return printer.days(first, last)

    def _room(self) -> Room:
        """Return how the table of statements is set."""
        own, plan = self.results.workshop.presentation, self.plan
        space = ALONE if plan is None else SHORT if plan.difference_kgco2e is None else FORESEEN
        letters = len(own.words or "") + len(own.contact or "")
        return room_of(self.results.workshop.visit, letters, self.request.language, space)

    def charts(self, printer: Printer) -> dict[str, Job]:
        """Return what draws what a term would bring, where one was asked for."""
        word = partial(translate, printer.language)
        return {"term_chart": partial(term_chart, self.plan, printer, word) if self.plan else str}

    def data(self, printer: Printer, tie: Ties) -> dict[str, Any]:
        """Return the data of the template."""
        records = self.records
        collected = {str(name): float(records[name].sum()) for name in records.columns if name.startswith("paper.")}
        names, dryer = self.results.names, self.results.workshop.drying.dryer
        grades = [grade for grade in names.grades if collected.get(f"paper.{grade}_kg", 0.0) > 0.0]
        recorded = set(records["binder"].astype(str)) - {NONE}
        used = [binder for binder in names.binders if binder in recorded]
        gap = self.plan.difference_kgco2e if self.plan else None
        word = partial(translate, printer.language)
        sheet = risks(self.results, regions_of(self.results.workshop, names))
        return {
            "part": shown(self.part, self.results.workshop.parts),
            "plan": self.plan,
            "grades": self._listed("grade", grades, "standard", printer),
            "binders": self._listed("binder", used, "or", printer),
            "drying": printer.names.plain("dryer", dryer, printer.language) if dryer else "",
            "direction": direction(gap, self.plan.displacement) if gap and self.plan else None,
            "no_plastic": not self.results.workshop.parts[self.part].polymer,
            "wet_use": self.results.workshop.parts[self.part].wet_use,
            "term_narrow": partial(term_chart, self.plan, printer, word, ON_PHONE) if self.plan else None,
            "term_alternative": term_alternative(self.plan, printer, word) if self.plan else "",
            "term_title": partial(title_of_term, tie),
            "units": self._units(printer),
            "alike": self._alike(tie),
            "days": self._days(printer),
            "visit": self.results.workshop.visit or Visit(),
            "room": self._room(),
            "devices": ", ".join(self.devices),
            "risks": sheet,
            "guidance": list(dict.fromkeys(source for risk in sheet for source in risk.guidance)),
        }
