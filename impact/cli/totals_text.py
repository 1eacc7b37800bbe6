"""The figures as text tables for a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain

from impact.account.results import Interval, verdict
from impact.account.sums import Account
from impact.base.problems import counted
from impact.base.problems import lines as problem_lines
from impact.base.texttable import aligned
from impact.programme import ProgrammeResults
from impact.study import Study


def interval_text(value: Interval | None, scale: float = 1.0) -> str:
    """Return a figure with its interval, `scale` times; a dash for none."""
    if value is None:
        return "-"
    return f"{value.value * scale:.4g} ({value.low * scale:.4g} to {value.high * scale:.4g})"


def as_text(results: Study) -> str:
    """Return the figures of an assessment as text."""
    paper = results.paper
    rate = "-" if paper.landfill_diversion_rate is None else f"{paper.landfill_diversion_rate:.1%}"
    lines = [
        f"{results.workshop.name}, {results.start} to {results.end}, {counted(results.batches, 'batch')}"
        + (" (invented records)" if results.workshop.invented else ""),
        *([results.grant.sentence()] if results.grant else []),
        "",
        "Paper, kg as weighed",
        *aligned(
            [
                ("collected", f"{paper.collected_kg:.1f}"),
                ("put to use in good parts", f"{paper.put_to_use_kg:.1f}"),
                ("kept from landfill, net", f"{paper.kept_from_landfill_kg:.1f}"),
                ("  of it deferred by the parts' end of life", f"{paper.deferred_kg:.1f}"),
                ("returned to landfill", f"{paper.returned_to_landfill_kg:.1f}"),
                ("kept from incineration", f"{paper.kept_from_incineration_kg:.1f}"),
                ("taken from recycling (no diversion)", f"{paper.taken_from_recycling_kg:.1f}"),
                ("landfill diversion rate", rate),
            ]
        ),
        "",
        "Parts, g CO2e per good part (95 % interval)",
        *aligned(
            [("part", "good", "moulded", "plastic", "difference", "chance lower", "")]
            + [
                (
                    part.part,
                    f"{part.good:.0f}",
                    interval_text(part.footprint, 1000.0),
                    interval_text(part.plastic.footprint if part.plastic else None, 1000.0),
                    interval_text(part.difference, 1000.0),
                    "-" if part.chance_lower is None else f"{part.chance_lower:.0%}",
                    verdict(part),
                )
                for part in results.parts
            ]
        ),
        "",
        "Account of the period, kg CO2e (95 % interval)",
        *aligned(
            [
                ("parts made", interval_text(results.made)),
                ("disposal avoided", interval_text(results.disposal.avoided)),
                ("recycling that lost its fibre", interval_text(results.disposal.lost_recycling)),
                ("plastic displaced, as recorded", interval_text(results.displaced_plastic)),
                ("net: made - avoided + lost recycling - displaced", interval_text(results.net)),
            ]
        ),
        "",
        *_by_site(results),
        f"seed {results.settings.seed}, {results.settings.draws} draws; GWP-100 of {results.settings.gwp}; "
        f"electricity {results.settings.electricity_kgco2e_per_kwh:.3f} kg CO2e/kWh ({results.settings.electricity})",
        "An estimate for the workshop's own use, carbon only, not critically reviewed.",
    ]
    lines += problem_lines(results.warnings)
    return "\n".join(lines)


def _by_site(results: Study) -> list[str]:
    """Return the tables by site, where the batches name more than one."""
    sites = len(results.counted.tally.sites)
    if sites < 2:
        return []
    if "site" not in results.inventory.groups:
        return [f"{sites} sites; --by-site gives the figures of each, --site those of one", ""]
    from impact.account.sums import account_of, by_site
    from impact.base.progress import track

    return [*site_tables(track(by_site(results), "sites", unit="sites"), account_of(results, "together")), ""]


NO_SITE = "(no site named)"


def site_tables(accounts: Iterable[Account], total: Account) -> list[str]:
    """Return two tables, paper and emissions, with a row for each account and one for their sum.

    Parameters
    ----------
    accounts : iterable of Account
        The sites.
    total : Account
        Their sum.
    """
    paper: list[tuple[str, ...]] = [
        ("site", "batches", "collected", "put to use", "kept from landfill", "from recycling", "diversion rate")
    ]
    emissions: list[tuple[str, ...]] = [("site", "made", "avoided", "lost recycling", "displaced", "net")]
    for account in chain(accounts, [total]):
        name, masses, rate = account.name or NO_SITE, account.paper, account.paper.landfill_diversion_rate
        kilograms = (
            masses.collected_kg,
            masses.put_to_use_kg,
            masses.kept_from_landfill_kg,
            masses.taken_from_recycling_kg,
        )
        numbers = (f"{account.batches:.0f}", *(f"{mass:.1f}" for mass in kilograms))
        paper.append((name, *numbers, "-" if rate is None else f"{rate:.1%}"))
        emissions.append((name, *(interval_text(one) for one in account.intervals().values())))
    return [
        "Paper by site, kg as weighed",
        *aligned(paper),
        "",
        "Account by site, kg CO2e (95 % interval; the sum is made draw by draw)",
        *aligned(emissions),
    ]


def programme_text(results: ProgrammeResults) -> str:
    """Return the figures of several workshops as text."""
    settings = results.sites[0].settings
    first, last = min(site.start for site in results.sites), max(site.end for site in results.sites)
    invented = any(site.workshop.invented for site in results.sites)
    where = [("site", "workshop", "country", "electricity, kg CO2e/kWh", "period")]
    for site in results.sites:
        grid = f"{site.settings.electricity_kgco2e_per_kwh:.3f} ({site.settings.electricity})"
        period = f"{site.start} to {site.end}"
        where.append((site.account.name, site.workshop.name, site.workshop.country, grid, period))
    out = [
        f"{results.name}, {first} to {last}, {counted(len(results.sites), 'site')}, "
        f"{counted(round(results.total.batches), 'batch')}" + (" (with invented records)" if invented else ""),
        "",
        "Sites",
        *aligned(where),
        "",
        *site_tables([site.account for site in results.sites], results.total),
        "",
        f"seed {settings.seed}, {settings.draws} draws; each site by its own factors",
        "An estimate for the workshops' own use, carbon only, not critically reviewed.",
        *problem_lines(results.warnings),
    ]
    return "\n".join(out)
