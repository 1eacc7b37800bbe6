"""Several workshops under one roof: a folder of workshop folders, each assessed by its own settings, and their sum.

Every workshop keeps its country, grid, factors and parts. All are run with one seed and as many draws, so that the
sum can be made draw by draw.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from impact.account.blocks import Spread
from impact.account.results import Assumption, PartResult, Settings
from impact.account.sums import Account, account_of, together
from impact.api import Folder, read_folder
from impact.base.catalogue import Names
from impact.base.problems import Problem, ProblemsError, choices
from impact.base.serial import Limits, document, group, inlined, named, only, plain, shows
from impact.base.spellings import fold
from impact.factors.factorset import Choice, FactorSet
from impact.findings.cautions import Caution
from impact.records.files import workshops_in
from impact.records.statements import Grant
from impact.records.tomlslips import FILE
from impact.records.workshop import Workshop
from impact.study import Study

NOT_THERE = {"no-batches", "unknown-name", "unknown-grant"}
"""Problems that mean that a workshop has nothing of what was asked for, so that it is left out of the sum."""

SAME_SETTINGS = {"gwp": "gwp", "landfill_parameters": "landfill_parameters", "horizon_years": "horizon"}
"""Settings of method that workshops should share for their sum to mean one thing, and their keys in ``[workshop]``."""


@shows(
    named("site", "account.name"),
    only("workshop", "name", "country", "electricity", "invented"),
    group("period", "start", "end"),
    only(
        "settings", "gwp", "electricity", "electricity_kgco2e_per_kwh", "landfill_parameters", "landfill_climate",
        "horizon_years",
    ),
    inlined("account"),
)  # fmt: skip
@dataclass(frozen=True)
class SiteResults:
    """What the sum keeps of one workshop.

    Attributes
    ----------
    workshop : Workshop
        Its settings.
    start, end : date
        First and last day that count.
    settings : Settings
        How its figures were made.
    account : Account
        Its account under the name of its folder, with all draws.
    grant : Grant or None
        The grant that it is counted for, as this workshop lists it.
    parts : tuple of PartResult
        Its parts, without their draws.
    evidence : mapping of str to float
        Share of what making emits, by how the amounts are known. [-]
    assumptions : tuple of Assumption
        What its records do not say.
    cautions : tuple of Caution
        What its records call for.
    factors_used : mapping of str to Choice
        Factor rows behind its figures, by id.
    factors, names : FactorSet, Names
        Its tables and its catalogue, own rows among them.
    warnings : tuple of Problem
        Doubts, their files named with the folder.
    """

    workshop: Workshop
    start: date
    end: date
    settings: Settings
    account: Account
    grant: Grant | None
    parts: tuple[PartResult, ...]
    evidence: Mapping[str, float]
    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    factors_used: Mapping[str, Choice]
    factors: FactorSet
    names: Names
    warnings: tuple[Problem, ...]

    @classmethod
    def of(cls, name: str, results: Study) -> SiteResults:
        """Return what is kept of the results of one workshop."""
        bare = (replace(part, draws=None, plastic_draws=None, displaced_draws=None) for part in results.parts)
        return cls(
            workshop=results.workshop,
            start=results.start,
            end=results.end,
            settings=results.settings,
            account=account_of(results, name),
            grant=results.grant,
            parts=tuple(bare),
            evidence=results.evidence,
            assumptions=results.assumptions,
            cautions=results.cautions,
            factors_used=results.factors_used,
            factors=results.factors,
            names=results.names,
            warnings=tuple(_inside(name, results.warnings)),
        )


@document(
    "impact-programme/1",
    "Totals of several workshops",
    "What `impact totals --json` prints for a folder of workshop folders. Masses in kg as weighed, emissions in kg CO2e. Each "
    "site is worked out by its own settings and factors; `together` is their sum, its intervals made from sums of draws.",
    named("programme", "name"),
    "invented",
    group("period", "start", "end"),
    only("settings", "seed", "draws", "version"),
    "sites",
    named("together", "total"),
    "warnings",
)
@dataclass(frozen=True)
class ProgrammeResults:
    """The accounts of several workshops and their sum.

    Attributes
    ----------
    name : str
        Name of the folder.
    sites : tuple of SiteResults
        By the names of their folders.
    total : Account
        Their sum, draw by draw.
    warnings : tuple of Problem
        Those of all sites, of sites left out, and of settings that differ.
    """

    name: str
    sites: Annotated[tuple[SiteResults, ...], Limits(minItems=1)]
    total: Account
    warnings: tuple[Annotated[Problem, Limits(properties={"level": {"const": "warning"}})], ...]

    @property
    def invented(self) -> bool:
        """True when the records of any site are invented."""
        return any(site.workshop.invented for site in self.sites)

    @property
    def start(self) -> date:
        """First day that counts at any site."""
        return min(site.start for site in self.sites)

    @property
    def end(self) -> date:
        """Last day that counts at any site."""
        return max(site.end for site in self.sites)

    @property
    def settings(self) -> Settings:
        """How the figures were made: what all sites share."""
        return self.sites[0].settings

    def as_totals(self) -> dict[str, Any]:
        """Return the figures as the JSON contract `impact-programme/1` has them."""
        found: dict[str, Any] = plain(self)
        return found


@dataclass(frozen=True)
class Programme:
    """Several workshop folders without errors.

    Attributes
    ----------
    name : str
        Name of the folder that holds them.
    folders : mapping of str to Folder
        By the names of their folders.
    """

    name: str
    folders: Mapping[str, Folder]

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
    ) -> ProgrammeResults:
        """Return the accounts of all workshops and their sum; arguments as of `Folder.assess`.

        `site` names one of the workshop folders, else a site of their batches. A workshop that has nothing of
        what is asked for is left out, with a warning.

        Raises
        ------
        ProblemsError
            With the errors of every workshop; or when none has what is asked for.
        """
        chosen = {name: folder for name, folder in self.folders.items() if site and fold(name) == fold(site)}
        inner = None if chosen else site
        found: list[SiteResults] = []
        faults: list[Problem] = []
        left_out: list[Problem] = []
        for name, folder in (chosen or self.folders).items():
            try:
                results = folder.assess(
                    seed=seed, draws=draws, period=period, part=part, site=inner, grant=grant, today=today
                )
                found.append(SiteResults.of(name, results))
            except ProblemsError as error:
                absent = {problem.code for problem in error.problems} <= NOT_THERE
                (left_out if absent else faults).extend(_inside(name, error.problems))
        if faults or not found:
            raise ProblemsError(faults or self._nowhere(left_out, inner))
        warnings = [problem for one in found for problem in one.warnings]
        warnings += [replace(problem, level="warning", message=f"left out: {problem.message}") for problem in left_out]
        total = together([one.account for one in found])
        return ProgrammeResults(self.name, tuple(found), total, (*warnings, *_differences(found)))

    def doubts(self, *, draws: int, today: date | None = None) -> tuple[Problem, ...]:
        """Return the warnings of `assess`; arguments and errors as of it."""
        return self.assess(draws=draws, today=today).warnings

    def _nowhere(self, left_out: list[Problem], site: str | None) -> list[Problem]:
        if site is None:
            return left_out
        message = "neither a workshop of this folder nor a site of their batches"
        return [
            Problem("unknown-name", self.name, message, read=site, accepted=choices(site, self.folders)),
            *left_out,
        ]


def _inside(name: str, problems: Sequence[Problem]) -> list[Problem]:
    return [replace(problem, file=f"{name}/{problem.file}") for problem in problems]


def _differences(sites: Sequence[SiteResults]) -> Iterator[Problem]:
    """Yield a warning for each setting of method in which the workshops differ."""
    for setting, key in SAME_SETTINGS.items():
        values = {site.account.name: getattr(site.settings, setting) for site in sites}
        if len(set(values.values())) > 1:
            read = ", ".join(f"{name}: {value}" for name, value in values.items())
            message = "the sites are worked out by different settings of method, and their sum mixes them"
            yield Problem(
                "mixed-settings", FILE, message, column=f"workshop.{key}", read=read,
                accepted="one setting for all sites", level="warning",
            )  # fmt: skip


def read_programme(path: Path, *, spread: Spread | None = None) -> tuple[Programme | None, list[Problem]]:
    """Return the workshops of a folder, or None, and every problem in the files of all.

    Parameters
    ----------
    path : Path
        A folder of workshop folders, see `workshops_in`.
    spread : callable, optional
        Surveys the files of the batches in other processes, see `impact.account.cluster`.
    """
    return read_together(path.resolve().name, {one.name: one for one in workshops_in(path)}, spread=spread)


def read_together(
    name: str, workshops: Mapping[str, Path], *, tables: Path | None = None, spread: Spread | None = None
) -> tuple[Programme | None, list[Problem]]:
    """Return some workshop folders under one roof, or None, and every problem in the files of all.

    Parameters
    ----------
    name : str
        What all are called together.
    workshops : mapping of str to Path
        Folders, by the names that they go by.
    tables, spread : Path, callable, optional
        As of `impact.api.read_folder`.
    """
    folders: dict[str, Folder] = {}
    problems: list[Problem] = []
    for inner, path in workshops.items():
        folder, found = read_folder(path, tables=tables, keep=False, spread=spread)
        problems += _inside(inner, found)
        if folder is not None:
            folders[inner] = folder
    return (Programme(name, folders) if workshops and len(folders) == len(workshops) else None), problems
