"""The accounts of sites as text tables for a terminal: a row for each site, and their sum."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain

from impact.grouping import lines as problem_lines
from impact.plurals import counted
from impact.programme import ProgrammeResults
from impact.sites import Account
from impact.totals import interval_text, table

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
        *table(paper),
        "",
        "Account by site, kg CO2e (95 % interval; the sum is made draw by draw)",
        *table(emissions),
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
        *table(where),
        "",
        *site_tables([site.account for site in results.sites], results.total),
        "",
        f"seed {settings.seed}, {settings.draws} draws; each site by its own factors",
        "An estimate for the workshops' own use, carbon only, not critically reviewed.",
        *problem_lines(results.warnings),
    ]
    return "\n".join(out)
