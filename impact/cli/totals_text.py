"""The figures as text tables for a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from textwrap import wrap

from impact.account.assessment import OTHER
from impact.account.results import PartResult
from impact.account.sums import Account
from impact.base.printing import CLOSING, FIGURE, GRID, MASS, PERCENT, TENTHS, WHOLE, chance
from impact.base.problems import counted
from impact.base.problems import lines as problem_lines
from impact.base.texttable import aligned
from impact.decisions.unseen import Ends
from impact.findings.net import BOUGHT, COUNTED, OTHER_STORED, SOON, STORED, net_words
from impact.findings.verdicts import verdict
from impact.programme import ProgrammeResults
from impact.study import Study

WIDTH = 118
"""Characters of a line of words."""
NO_RATE = "The share is no diversion rate of a site, which divides by all waste of the site."
MORE = "--all adds recycled polymer, power sold, rows that nobody saw published, the net in other ways, recycling by grade."


def as_text(results: Study, *, everything: bool = False) -> str:
    """Return the figures of an assessment as text: the main ones, or everything."""
    paper = results.paper
    tables = (
        [*_cases(results), *_sold(results), *_unseen(results), *_net(results), *_recycling(results)]
        if everything
        else []
    )
    lines = [
        f"{results.workshop.name}, {results.start} to {results.end}, {counted(results.batches, 'batch')}"
        + (" (invented records)" if results.workshop.invented else ""),
        *([str(results.grant.sentence(results.start, results.end))] if results.grant else []),
        "",
        "Paper, kg as weighed (95 % interval)",
        *aligned(
            [
                *([("weighed in all", MASS.interval(paper.weighed_kg))] if results.grant else []),
                ("collected", MASS.interval(paper.collected_kg)),
                ("put to use in good parts", MASS.interval(paper.put_to_use_kg)),
                ("kept from landfill, net", MASS.interval(paper.kept_from_landfill_kg)),
                ("  of it deferred by the parts' end of life", MASS.interval(paper.deferred_kg)),
                ("  share of the collected paper", TENTHS.interval(paper.landfill_diversion_rate)),
                ("returned to landfill", MASS.interval(paper.returned_to_landfill_kg)),
                ("  taken off for fines", MASS.interval(paper.fines_off_landfill_kg)),
                ("kept from incineration", MASS.interval(paper.kept_from_incineration_kg)),
                ("taken from recycling (no diversion)", MASS.interval(paper.taken_from_recycling_kg)),
            ]
        ),
        NO_RATE,
        "",
        "Parts, g CO2e per good part (95 % interval)",
        *aligned(_parts(results)),
        *_recycled_alone(results),
        "",
        "Account of the period, kg CO2e (95 % interval)",
        *aligned(
            [
                ("parts made", FIGURE.interval(results.made)),
                ("disposal avoided", FIGURE.interval(results.disposal.avoided)),
                ("  less, within it: electricity sold", FIGURE.interval(results.disposal.electricity_sold)),
                ("recycling that lost its fibre", FIGURE.interval(results.disposal.lost_recycling)),
                ("plastic displaced, as recorded", FIGURE.interval(results.displaced_plastic)),
                ("net: made - avoided + lost recycling - displaced", FIGURE.interval(results.net)),
                (
                    "  without the plastic displaced",
                    FIGURE.interval(results.net_account.cases[COUNTED].without_plastic_kgco2e),
                ),
                ("  with all rows from memory at their ends", _ends(results.at_ends.from_memory.net)),
                ("  with all common practice at its ends", _ends(results.at_ends.common_practice.net)),
            ]
        ),
        *wrap(str(net_words(results.uses_by_grade)), WIDTH),
        *_recycling_alone(results),
        "",
        *_beside(results),
        *tables,
        *_by_site(results),
        f"seed {results.settings.seed}, {results.settings.draws} draws; GWP-100 of {results.settings.gwp}; "
        f"electricity {GRID(results.settings.electricity_kgco2e_per_kwh)} kg CO2e/kWh ({results.settings.electricity})",
        CLOSING,
        *([] if everything else [MORE]),
    ]
    lines += problem_lines(results.warnings)
    return "\n".join(lines)


CHANGES = {
    "collected_kg": "paper collected", "put_to_use_kg": "put to use in good parts",
    "kept_from_landfill_kg": "kept from landfill, net", "kept_from_incineration_kg": "kept from incineration",
    "taken_from_recycling_kg": "taken from recycling", "made_kgco2e": "parts made", "avoided_kgco2e": "disposal avoided",
    "lost_recycling_kgco2e": "recycling that lost its fibre", "displaced_plastic_kgco2e": "plastic displaced, as recorded",
    "net_kgco2e": "net",
}  # fmt: skip
"""What is put beside another period, paper and then emissions."""


def _beside(results: Study) -> list[str]:
    """Return the main figures of another period beside these, and the change."""
    other = results.beside
    if other is None:
        return []
    counts = {"days": other.days, "batches": other.batches, "good parts": other.good_parts}
    rows: list[tuple[str, ...]] = [
        ("", "this period", f"{other.start} to {other.end}", "change", "told apart by the draws")
    ]
    rows += [(label, WHOLE(one.now), WHOLE(one.then), f"{one.change:+.0f}", "counted") for label, one in counts.items()]
    for style, unit, figures in ((MASS, "kg", other.paper), (FIGURE, "kg CO2e", other.account)):
        for name, figure in figures.items():
            shown, label = (
                (style, f"{CHANGES[name]}, {unit}") if name in CHANGES else (TENTHS, "landfill diversion rate")
            )
            rows.append((label, *map(shown.interval, (figure.now, figure.then, figure.change)), figure.told or "-"))
    for part in other.parts:
        figure = part.footprint_kgco2e
        sides = (FIGURE.interval(one, 1000.0) for one in (figure.now, figure.then, figure.change))
        rows.append((f"footprint of one {part.part}, g CO2e", *sides, figure.told))
    return [
        "Beside another period (95 % interval; the change is taken draw by draw)",
        *aligned(rows),
        *problem_lines(other.warnings),
        "",
    ]


def _parts(results: Study) -> list[tuple[str, ...]]:
    """Return the parts beside their plastic parts; without the columns of those where no part has one."""
    compared = any(part.plastic for part in results.parts)
    rows = [("part", "good", "moulded", *(("plastic", "difference", "chance lower") if compared else ()), "")]
    for part in results.parts:
        beside = (
            FIGURE.interval(part.plastic.footprint if part.plastic else None, 1000.0),
            FIGURE.interval(part.difference, 1000.0),
            chance(part.chance_lower),
        )
        made = (part.part, WHOLE(part.good), FIGURE.interval(part.footprint, 1000.0))
        rows.append((*made, *(beside if compared else ()), verdict(part)))
    return rows


def _cases(results: Study) -> list[str]:
    """Return the lines of the comparison with recycled polymer; none where the tables hold none."""
    rows = [
        (
            part.part,
            FIGURE.interval(part.recycled.footprint, 1000.0),
            FIGURE.interval(part.recycled.difference, 1000.0),
            chance(part.recycled.chance_lower),
        )
        for part in results.parts
        if part.recycled is not None
    ]
    title = "A case: the plastic part of recycled polymer, g CO2e per good part (95 % interval)"
    return [title, *aligned([("part", "plastic", "difference", "chance lower"), *rows]), ""] if rows else []


def _recycled_alone(results: Study) -> list[str]:
    """Return in one line the chance of each part to be lower than one of recycled polymer."""
    parts = [(part.part, part.recycled) for part in results.parts]
    told = ", ".join(f"{name} {chance(recycled.chance_lower)}" for name, recycled in parts if recycled is not None)
    return [f"Chance lower than plastic of recycled polymer: {told}"] if told else []


def _ends(moved: Ends) -> str:
    return f"{FIGURE(moved.favourable)} to {FIGURE(moved.unfavourable)}"


def _recycling_alone(results: Study) -> list[str]:
    """Return in one line for which grades recycling saves more than pulping here, with the chance of each."""
    told = ", ".join(f"{use.grade} {chance(use.chance_recycling)}" for use in results.uses_by_grade)
    return [f"Chance that a kilogram recycled saves more than one pulped here: {told}"] if told else []


def _sold(results: Study) -> list[str]:
    """Return the credit for electricity within the footprints."""
    title = "Credit for electricity sold, within the footprints, g CO2e per good part (95 % interval)"
    sides = 3 if any(part.plastic for part in results.parts) else 2
    rows = [("part", "moulded", "plastic"), *map(_credits, results.parts)]
    return [title, *aligned([row[:sides] for row in rows]), ""]


def _unseen(results: Study) -> list[str]:
    """Return what rows that nobody saw do to the account."""
    title = "The account with all rows that nobody saw published at once at their favourable, and unfavourable, ends, kg CO2e"
    return [title, *aligned(_at_ends(results)), ""]


def _credits(part: PartResult) -> tuple[str, str, str]:
    plastic = part.plastic.electricity_sold if part.plastic else None
    return part.part, FIGURE.interval(part.electricity_sold, 1000.0), FIGURE.interval(plastic, 1000.0)


def _at_ends(results: Study) -> list[tuple[str, ...]]:
    """Return what rows from memory and of common practice do, with the shares of the lines in which they take part."""
    moves = (results.at_ends.from_memory, results.at_ends.common_practice)
    shares = (results.memory_share, results.practice_share)
    rows: list[tuple[str, ...]] = [("", "from memory", "share of lines", "common practice", "share of lines")]
    for name, label in KEY_FIGURES.items():
        row = [label]
        for move, share in zip(moves, shares, strict=True):
            ends = getattr(move, name)
            row += [_ends(ends), PERCENT(share.get(name))]
        rows.append(tuple(row))
    return rows


KEY_FIGURES = {
    "made": "parts made",
    "avoided": "disposal avoided",
    "lost_recycling": "recycling that lost its fibre",
    "net": "net",
}


CASES = {
    COUNTED: "as counted",
    BOUGHT: "moulds charged whole, as bought",
    STORED: "carbon of paper that stays in landfills credited",
    SOON: "landfill methane of the first ten years alone",
    OTHER: "the other landfill parameters",
    OTHER_STORED: "these, and carbon that stays credited",
}


def _net(results: Study) -> list[str]:
    """Return the net in other ways."""
    rows = [("Net account in other ways, kg CO2e", "net", "without the plastic displaced")]
    for case, words in CASES.items():
        found = results.net_account.cases[case]
        rows.append((words, FIGURE.interval(found.net_kgco2e), FIGURE.interval(found.without_plastic_kgco2e)))
    return [*aligned(rows), ""]


def _recycling(results: Study) -> list[str]:
    """Return what one kilogram of paper saves, by grade."""
    saved = [
        (
            "One kg of paper saves, kg CO2e",
            "recycled",
            "pulped here, without the plastic",
            "chance recycling saves more",
        )
    ]
    for use in results.uses_by_grade:
        figures = (FIGURE.interval(use.recycling_saves), FIGURE.interval(use.pulping_saves))
        saved.append((use.grade, *figures, chance(use.chance_recycling)))
    return [*aligned(saved), ""] if len(saved) > 1 else []


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
        ("site", "batches", "collected", "put to use", "kept from landfill", "from recycling", "share kept")
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
        numbers = (WHOLE(account.batches), *map(MASS.interval, kilograms))
        paper.append((name, *numbers, TENTHS.interval(rate)))
        lines = account.emissions
        made, avoided, lost = lines.made_kgco2e, lines.avoided_kgco2e, lines.lost_recycling_kgco2e
        row = (made, avoided, lost, lines.displaced_plastic_kgco2e, lines.net_kgco2e)
        emissions.append((name, *map(FIGURE.interval, row)))
    return [
        "Paper by site, kg as weighed (95 % interval; the sum is made draw by draw)",
        *aligned(paper),
        "",
        "Account by site, kg CO2e (95 % interval; the sum is made draw by draw; net: against no workshop at all)",
        *aligned(emissions),
    ]


def programme_text(results: ProgrammeResults) -> str:
    """Return the figures of several workshops as text."""
    settings = results.settings
    where = [("site", "workshop", "country", "electricity, kg CO2e/kWh", "period")]
    for site in results.sites:
        grid = f"{GRID(site.settings.electricity_kgco2e_per_kwh)} ({site.settings.electricity})"
        period = f"{site.start} to {site.end}"
        where.append((site.account.name, site.workshop.name, site.workshop.country, grid, period))
    out = [
        f"{results.name}, {results.start} to {results.end}, {counted(len(results.sites), 'site')}, "
        f"{counted(round(results.total.batches), 'batch')}" + (" (with invented records)" if results.invented else ""),
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
