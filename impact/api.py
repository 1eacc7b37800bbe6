"""A workshop folder opened for work: its settings, batches and factors, and every problem found in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from impact.factors import OWN_FILE, FactorSet, read_factors
from impact.grants import counted_for, days_of, grant_named
from impact.names import CATALOGUE, Names, read_names
from impact.ownfactors import read_own_factors
from impact.problems import Problem, ProblemsError, errors
from impact.results import Results
from impact.workshop import Workshop, read_workshop

if TYPE_CHECKING:
    import pandas as pd

ELSEWHERE = ("claim.", "compost.", "equivalent.", "pedigree.", "safety.")
"""Starts of the keys that are asked for outside the footprint."""


@dataclass(frozen=True)
class Folder:
    """A workshop folder without errors.

    Attributes
    ----------
    path : Path
        The folder.
    workshop : Workshop
        Settings and parts.
    batches : DataFrame
        All batches, in canonical columns.
    factors : FactorSet
        Shipped factors with the workshop's own rows.
    shipped : FactorSet
        The shipped factors alone.
    names : Names
        The catalogue.
    warnings : tuple of Problem
        What the readers doubted.
    """

    path: Path
    workshop: Workshop
    batches: pd.DataFrame
    factors: FactorSet
    shipped: FactorSet
    names: Names
    warnings: tuple[Problem, ...]

    def assess(
        self,
        *,
        seed: int | None = None,
        draws: int | None = None,
        period: tuple[date, date] | None = None,
        part: str | None = None,
        site: str | None = None,
        grant: str | None = None,
    ) -> Results:
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
            Count only the days of this grant, and its share of the accounts.

        Raises
        ------
        ProblemsError
            When no batch has that part or site, nothing is left, a batch gives out more than went in, or a
            factor is missing.
        """
        from impact.assessment import DEFAULT_DRAWS, DEFAULT_SEED, assess
        from impact.ownvalues import own_values

        chosen = grant_named(self.workshop, grant) if grant is not None else None
        if chosen is not None:
            period = days_of(chosen, period)
        results = assess(
            self.workshop,
            self.narrowed(period=period, part=part, site=site),
            self.factors,
            seed=DEFAULT_SEED if seed is None else seed,
            draws=DEFAULT_DRAWS if draws is None else draws,
            period=period,
            all_batches=self.batches,
            names=self.names,
            warnings=self.warnings,
        )
        own = own_values(self, results, seed=seed, draws=draws, period=period, part=part, site=site, grant=grant)
        whole = replace(results, warnings=(*results.warnings, *self._unused(results)), own_values=own)
        return whole if chosen is None else counted_for(whole, chosen)

    def _unused(self, results: Results) -> list[Problem]:
        """Return a warning for each own factor that nothing asked for, most often because its id or place is mistyped."""
        return [
            Problem(
                "unused-factor", OWN_FILE, "no figure of these batches uses this row", row=factor.row, column="id",
                read=factor.id, accepted="the id of a factor that the report lists", level="warning",
            )
            for factor in self.factors
            if factor.file == OWN_FILE and factor.id not in results.factors_used and not factor.id.startswith(ELSEWHERE)
        ]  # fmt: skip

    def narrowed(
        self, *, period: tuple[date, date] | None = None, part: str | None = None, site: str | None = None
    ) -> pd.DataFrame:
        """Return the batches of a period, a part, a site; by default all.

        Raises
        ------
        ProblemsError
            When no batch has that part or site, or nothing is left.
        """
        from impact.batches import filter_batches

        try:
            chosen = filter_batches(self.batches, period=period, part=part, site=site)
        except ValueError as error:
            raise ProblemsError([Problem("unknown-name", "batches", str(error))]) from None
        if chosen.empty:
            message = "no batch is left after narrowing by period, part and site"
            raise ProblemsError([Problem("no-batches", "batches", message, accepted=self._extent())])
        return chosen

    def _extent(self) -> str:
        dates = self.batches["date"]
        parts = ", ".join(sorted(set(self.batches["part"].astype(str))))
        return f"batches from {dates.min():%Y-%m-%d} to {dates.max():%Y-%m-%d}, of the parts {parts}"


def read_folder(path: Path, *, tables: Path | None = None) -> tuple[Folder | None, list[Problem]]:
    """Return a workshop folder, or None, and every problem in its files.

    Parameters
    ----------
    path : Path
        The folder.
    tables : Path, optional
        Folder of the factor tables; by default the one that ships with the package.
    """
    from impact.batches import read_batches

    names = read_names(tables / CATALOGUE if tables else None)
    workshop, problems = read_workshop(path, names)
    if not path.is_dir():
        return None, problems
    batches, faults = read_batches(path, workshop, names)
    problems += faults
    shipped = read_factors(tables)
    factors, faults = read_own_factors(path / OWN_FILE, shipped)
    problems += faults
    if workshop is None or errors(problems):
        return None, problems
    return Folder(path, workshop, batches, factors, shipped, names, tuple(problems)), problems


def load(path: Path | str, *, tables: Path | None = None) -> Folder:
    """Return a workshop folder; see `read_folder`.

    Raises
    ------
    ProblemsError
        With every error in its files.
    """
    folder, problems = read_folder(Path(path), tables=tables)
    if folder is None:
        raise ProblemsError(problems)
    return folder
