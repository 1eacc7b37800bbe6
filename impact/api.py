"""A workshop folder opened for work: its settings, batches and factors, and every problem found in them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impact.account.amounts import take_stock
from impact.account.assessment import assess_counted, missing_factors_told, values_for
from impact.account.blocks import Spread, Surveyor
from impact.account.comparison import history_doubts, latest_believed
from impact.account.results import Results
from impact.account.scan import Survey, read_again, survey, unchanged
from impact.account.sizes import Sized, setting_doubts, size_doubts
from impact.account.sums import counted_for as scaled_for
from impact.account.tally import Counted
from impact.base.catalogue import CATALOGUE, Names, read_names
from impact.base.defaults import DEFAULT_DRAWS, DEFAULT_SEED
from impact.base.problems import Problem, ProblemsError, by_row, errors
from impact.base.serial import Member, NotFiniteError, plain
from impact.factors.factorset import FactorSet, read_factors
from impact.factors.own import own_factors
from impact.factors.ownbinders import with_own_binders
from impact.factors.rows import OWN_FILES
from impact.factors.values import MissingFactorError, Values
from impact.records.batches import read_batch_table
from impact.records.batchtable import BatchTable
from impact.records.files import choose_file, is_workshop, reading_settings
from impact.records.grants import Usual, days_of, grant_named, usual_grant
from impact.records.ownbinders import names_of
from impact.records.selection import Selection, filter_batches
from impact.records.statements import Grant
from impact.records.workshop import Workshop
from impact.records.workshop_file import place_of, read_workshop
from impact.tables.table import UnreadableError
from impact.tables.texts import Codes

if TYPE_CHECKING:
    import pandas as pd

    from impact.study import Study

ELSEWHERE = ("claim.", "compost.", "equivalent.", "pedigree.", "plausible.", "safety.")
"""Starts of the keys that are asked for outside the footprint."""

FIGURES = tuple(Member(one.name, one.name) for one in fields(Results) if one.name != "warnings")
"""What of the results is held to be finite."""


@dataclass(frozen=True)
class Folder:
    """A workshop folder without errors.

    Attributes
    ----------
    path : Path
        The folder.
    workshop : Workshop
        Settings and parts.
    survey : Survey
        What the batches come to, read once.
    factors : FactorSet
        Shipped factors with the workshop's own rows.
    shipped : FactorSet
        The shipped factors alone.
    names : Names
        The catalogue.
    warnings : tuple of Problem
        What the readers doubted.
    spread : callable, optional
        Surveys files in other processes, see `impact.account.cluster`.
    by_site : bool
        Whether results are summed by site as well.
    """

    path: Path
    workshop: Workshop
    survey: Survey
    factors: FactorSet
    shipped: FactorSet
    names: Names
    warnings: tuple[Problem, ...]
    spread: Spread | None = None
    by_site: bool = False

    @property
    def batches_file(self) -> str:
        """Name of the file that holds the batches."""
        return self.survey.file

    @cached_property
    def batches(self) -> pd.DataFrame:
        """All batches, in canonical columns; read now where the rows were not kept."""
        return self.table.frame()

    @cached_property
    def table(self) -> BatchTable:
        """The same, as arrays."""
        if self.survey.batches is not None:
            return self.survey.batches.ordered()
        self._require_unchanged()
        table, problems = read_batch_table(self.path, self.workshop, self.names)
        if errors(problems):
            raise ProblemsError(problems)
        return table.ordered()

    def assess(
        self,
        *,
        seed: int | None = None,
        draws: int | None = None,
        period: tuple[date, date] | None = None,
        part: str | None = None,
        site: str | None = None,
        grant: str | None = None,
        today: date | None = None,
        beside: tuple[date, date] | None = None,
        values: Values | None = None,
    ) -> Study:
        """Return the results of the batches of a period, a part, a site; by default of all.

        When own factor values were used, the results also hold what the shipped ones would have given.

        Parameters
        ----------
        seed, draws : int, optional
            Uncertainty run; see `impact.assess`.
        period : pair of dates, optional
            First and last day, both counted.
        part, site : str, optional
            Names to narrow to.
        grant : str, optional
            Count only the days of this grant, and its share of the accounts; see `impact.records.grants.grant_named`.
        today : date, optional
            Today, where the caller may read a clock: batches far after it are doubted.
        beside : pair of dates, optional
            First and last day of another period, whose main figures stand beside these; see `impact.beside`.
        values : Values, optional
            What `values` gave for the same settings and factors, not to be drawn anew; `seed` and `draws` are its own then.

        Raises
        ------
        ProblemsError
            When no batch has that part or site, nothing is left, a batch gives out more than went in, a
            factor is missing, or the two periods have a day in common.
        """
        one = partial(
            self._of_period, seed=seed, draws=draws, part=part, site=site, grant=grant, today=today, values=values
        )
        if beside is None:
            return one(period)
        import impact.beside as periods

        faults: list[Problem] = []
        found: list[Study] = []
        for days in (period, beside):
            try:
                found.append(one(days))
            except ProblemsError as error:
                faults += error.problems if days is not beside else periods.named_beside(error.problems, beside)
        if faults:
            raise ProblemsError(faults)
        now, then = found
        periods.require_apart(now, then)
        return replace(now, beside=periods.beside(now, then, self._drawn_anew(then)))

    def _drawn_anew(self, results: Study) -> Results:
        """Return results once more, with other errors of what was weighed or metered; all other draws are the same."""
        values = results.values.drawn_anew(*(line.activity for line in results.inventory.lines))
        again = assess_counted(self.workshop, results.counted, values, self.names, period=(results.start, results.end))
        return again if results.grant is None else scaled_for(again, results.grant)

    def _of_period(self, period: tuple[date, date] | None, **narrowing: Any) -> Study:
        """Return the results of one period; arguments and errors as of `assess`."""
        from impact.study import counted_for, own_values, study_of

        results, chosen, period = self._results(period, **narrowing)
        same = {name: narrowing[name] for name in ("part", "site", "grant")}
        run = {"seed": results.values.seed, "draws": results.values.draws, "period": period, **same}
        own = own_values(results, partial(self.with_shipped, **run))
        whole = replace(study_of(results), own_values=own)
        try:
            whole.require_finite(whole=results.values.lasting is not None)
        except NotFiniteError as error:
            raise ProblemsError([Problem("not-finite", self.batches_file, str(error)), *results.warnings]) from None
        return whole if chosen is None else counted_for(whole, chosen)

    def with_shipped(self, **options: Any) -> Study | None:
        """Return the results by the shipped factors alone; options as of `assess`.

        None when the folder has no own row, or the shipped tables lack a factor that it brings.
        """
        if not any(factor.is_own for factor in self.factors):
            return None
        with suppress(ProblemsError):
            return replace(self, factors=self.shipped).assess(**options)
        return None

    def doubts(self, *, draws: int, today: date | None = None) -> tuple[Problem, ...]:
        """Return the warnings of `assess`; arguments and errors as of it. What it makes of the results is left out where it cannot fail."""
        if not any(factor.is_own for factor in self.factors):
            narrowing: dict[str, Any] = dict.fromkeys(("period", "seed", "part", "site", "grant", "values"))
            results, *_ = self._results(**narrowing, draws=draws, today=today)
            with suppress(NotFiniteError):  # the figure is named below, as the outputs name it
                plain(results, FIGURES, words=False)
                return results.warnings
        return self.assess(draws=draws, today=today).warnings

    def _results(
        self,
        period: tuple[date, date] | None,
        *,
        seed: int | None,
        draws: int | None,
        part: str | None,
        site: str | None,
        grant: str | None,
        today: date | None,
        values: Values | None,
    ) -> tuple[Results, Grant | None, tuple[date, date] | None]:
        """Return the results of one period with all warnings, the grant that they are narrowed to, and the days asked for."""
        chosen, period = self.days_for(grant, period)
        values = self.values(seed=seed, draws=draws) if values is None else values.again()
        wanted = Selection(period, part, site)
        surveyed = self._surveyed(wanted)
        with ThreadPoolExecutor(1) as beside:
            doubts = beside.submit(self._doubts, wanted, surveyed.unlikely, today)
            try:
                results = assess_counted(
                    self.workshop,
                    self._counted(surveyed, wanted, values),
                    values,
                    self.names,
                    period=period,
                    warnings=self.warnings,
                )
            except ProblemsError as error:
                doubted = self._with_sizes(wanted, doubts.result(), None) if surveyed.tally is not None else []
                raise ProblemsError([*error.problems, *doubted]) from None
            doubted = self._with_sizes(wanted, doubts.result(), results)
        if errors(doubted):
            raise ProblemsError([*results.warnings[len(self.warnings) :], *doubted])
        found = (*results.warnings, *doubted, *self._unused(results))
        files = {"batches": self.batches_file, "parts.csv": choose_file(self.path, "parts")[0].name}
        found = tuple(one.at(files[one.file]) if files.get(one.file, one.file) != one.file else one for one in found)
        return replace(results, warnings=found), chosen, period

    def values(self, *, seed: int | None = None, draws: int | None = None) -> Values:
        """Return the factors of a run of this workshop; arguments as of `assess`."""
        seed, draws = (DEFAULT_SEED if seed is None else seed), (DEFAULT_DRAWS if draws is None else draws)
        if draws < 1:
            raise ValueError("an assessment needs at least one draw")
        return values_for(self.workshop, self.factors, self.names, seed=seed, draws=draws)

    def _doubts(self, wanted: Selection, unlikely: Sequence[Problem], today: date | None) -> list[Problem]:
        """Return the doubts about the batches that are wanted: those of single batches, and those beside the others."""
        beside, latest = self.survey.beside, latest_believed(self.workshop.report_date, today)
        return sorted([*unlikely, *history_doubts(beside, wanted.flags(beside), latest=latest)], key=by_row)

    def _with_sizes(self, wanted: Selection, doubts: list[Problem], results: Results | None) -> list[Problem]:
        """Return doubts with those by size, which go before others about the same cell."""
        beside, values = self.survey.beside, values_for(self.workshop, self.factors, self.names, seed=0, draws=1)
        sized = Sized(beside.sizes, beside.named, self._at)
        settings = setting_doubts(self.workshop, values, results, partial(place_of, self.path))
        found = size_doubts(sized, wanted.flags(beside), self.workshop, values, results, settings)
        cells = {(problem.file, problem.row, problem.column) for problem in found if problem.row is not None}
        others = [problem for problem in doubts if (problem.file, problem.row, problem.column) not in cells]
        return [*settings, *sorted([*found, *others], key=by_row)]

    def _at(self, places: Codes) -> BatchTable:
        """Return the batches at some places among all; read now where they were not kept."""
        if self.survey.batches is not None:
            return self.survey.batches.kept(places)
        kept = self.survey.beside.kept(places)
        if kept is not None:
            return kept
        try:
            return read_again(self.survey.spans, self._surveyor(Selection()), places)
        except UnreadableError as error:
            raise ProblemsError([error.problem]) from None

    def _require_unchanged(self) -> None:
        """Refuse files of batches that are no longer what was surveyed: changed, or gone."""
        try:
            for span in self.survey.spans:
                span.require_unchanged()
        except UnreadableError as error:
            raise ProblemsError([error.problem]) from None

    def _surveyor(self, wanted: Selection) -> Surveyor:
        return Surveyor(
            self.workshop, self.names, self.factors, reading_settings(self.path), wanted, by_site=self.by_site
        )

    def doubts_beside_errors(self, today: date | None) -> Sequence[Problem]:
        """Return the doubts about the rows that can be read, of a folder in which others cannot."""
        try:
            return self.doubts(draws=1, today=today)[len(self.warnings) :]
        except ProblemsError as error:
            return error.problems

    def _unused(self, results: Results) -> list[Problem]:
        """Return a warning for each own factor that nothing asked for, most often because its id or place is mistyped."""
        return [
            Problem(
                "unused-factor", factor.file, "no figure of these batches uses this row", row=factor.row, column="id",
                read=factor.id, accepted="the id of a factor that the report lists", level="warning",
            )
            for factor in self.factors
            if factor.file in OWN_FILES and factor.id not in results.factors_used and not factor.id.startswith(ELSEWHERE)
        ]  # fmt: skip

    def _counted(self, found: Survey, wanted: Selection, values: Values) -> Counted:
        """Return the batches that are wanted; the factors that they ask for are noted in `values`."""
        with missing_factors_told(self.workshop):
            if found.missing:
                raise MissingFactorError(found.missing)
            for key in sorted(found.asked):
                values.choose(key)
        if found.tally is None:
            raise self._nothing_left()
        return Counted(
            found.tally,
            self.survey.pressings,
            found.doubts,
            rows=lambda: wanted.of(self.table),
            all_rows=lambda: self.table,
            weigh=lambda table: take_stock(table, self.workshop, values.central)[1],
        )

    def _surveyed(self, wanted: Selection) -> Survey:
        """Return the survey of the batches that are wanted; the file is read again where they are not all."""
        if wanted == Selection() and self.survey.factors is self.factors:
            if self.survey.batches is None:
                self._require_unchanged()
            return self.survey
        try:
            wanted.require(self.survey.parts, self.survey.sites)
        except ValueError as error:
            raise ProblemsError([Problem("unknown-name", "batches", str(error))]) from None
        self._require_unchanged()
        return survey(self.path, self._surveyor(wanted), spread=self.spread)

    def days_for(
        self, grant: str | None, period: tuple[date, date] | None
    ) -> tuple[Grant | None, tuple[date, date] | None]:
        """Return the grant of a name, and its days, narrowed to a period; without a grant the period alone."""
        chosen = grant_named(self.workshop, grant) if grant is not None else None
        return chosen, period if chosen is None else days_of(chosen, period)

    def usual_grant(self, *, period: tuple[date, date] | None, part: str | None, site: str | None) -> Usual | None:
        """Return what a report for who paid counts where no grant is asked for, see `impact.records.grants.usual_grant`."""
        beside = self.survey.beside
        return usual_grant(self.workshop, period, lambda days: int(Selection(days, part, site).flags(beside).sum()))

    def narrowed(
        self,
        *,
        period: tuple[date, date] | None = None,
        part: str | None = None,
        site: str | None = None,
        grant: str | None = None,
    ) -> pd.DataFrame:
        """Return the batches of a period, a part, a site, the days of a grant; by default all.

        Raises
        ------
        ProblemsError
            When no batch has that part or site, or nothing is left.
        """
        try:
            days = self.days_for(grant, period)[1]
            chosen = filter_batches(self.batches, period=days, part=part, site=site)
        except ValueError as error:
            raise ProblemsError([Problem("unknown-name", "batches", str(error))]) from None
        if chosen.empty:
            raise self._nothing_left()
        return chosen

    def _nothing_left(self) -> ProblemsError:
        assert self.survey.days is not None  # a folder without errors has a batch
        first, last = self.survey.days
        message = "no batch is left after narrowing by period, part, site and grant"
        accepted = f"batches from {first} to {last}, of the parts {', '.join(sorted(self.survey.parts))}"
        return ProblemsError([Problem("no-batches", "batches", message, accepted=accepted)])


def read_folder(
    path: Path,
    *,
    tables: Path | None = None,
    keep: bool = True,
    spread: Spread | None = None,
    by_site: bool = False,
    today: date | None = None,
) -> tuple[Folder | None, list[Problem]]:
    """Return a workshop folder, or None, and every problem in its files.

    Parameters
    ----------
    path : Path
        The folder.
    tables : Path, optional
        Folder of the factor tables; by default the one that ships with the package.
    keep : bool
        Whether the rows of the batches are kept. Without them a file of any size fits in memory, and `Folder.batches`
        reads it again.
    spread : callable, optional
        Surveys the files of the batches in other processes, see `impact.account.cluster`.
    by_site : bool
        Whether results are summed by site as well, see `impact.account.sums.by_site`.
    today : date, optional
        As of `Folder.assess`, for the doubts about rows that stand beside rows with errors.
    """
    ids = read_names(tables / CATALOGUE if tables else None)
    workshop, problems = read_workshop(path, ids)
    if not path.is_dir() or not is_workshop(path):
        return None, problems
    shipped = read_factors(tables)
    names = names_of(path, ids)
    factors, faults = own_factors(path, with_own_binders(shipped, workshop) if workshop else shipped)
    surveyor = Surveyor(workshop, names, factors, reading_settings(path), Selection(), keep=keep, by_site=by_site)
    found = unchanged(lambda: survey(path, surveyor, spread=spread))
    problems += [*found.problems, *faults]
    if workshop is None:
        return None, problems
    folder = Folder(path, workshop, found, factors, shipped, names, tuple(problems), spread, by_site)
    if not errors(problems):
        return folder, problems
    return None, [*problems, *(folder.doubts_beside_errors(today) if found.tally is not None else ())]


def load(path: Path | str, *, tables: Path | None = None, keep: bool = True, by_site: bool = False) -> Folder:
    """Return a workshop folder; see `read_folder`.

    Raises
    ------
    ProblemsError
        With every error in its files.
    """
    folder, problems = read_folder(Path(path), tables=tables, keep=keep, by_site=by_site)
    if folder is None:
        raise ProblemsError(problems)
    return folder
