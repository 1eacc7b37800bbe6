"""The figures as text tables for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from impact.grouping import lines as problem_lines
from impact.plurals import counted
from impact.results import Interval, PartResult, Results


def verdict(part: PartResult) -> str:
    """Return in words how a part compares with its plastic part; the words follow the chance alone.

    At 0.9 and above the part is called lower, at 0.1 and below higher, in between undecided.
    """
    if part.chance_lower is None:
        return f"not compared: {part.no_comparison}"
    if part.chance_lower >= 0.9:
        return "lower than plastic"
    if part.chance_lower <= 0.1:
        return "higher than plastic"
    return "undecided"


def interval_text(value: Interval | None, scale: float = 1.0) -> str:
    """Return a figure with its interval, `scale` times; a dash for none."""
    if value is None:
        return "-"
    return f"{value.value * scale:.4g} ({value.low * scale:.4g} to {value.high * scale:.4g})"


def table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return the lines of a table whose columns are as wide as their widest cell."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def as_text(results: Results) -> str:
    """Return the figures of an assessment as text."""
    paper = results.paper
    rate = "-" if paper.landfill_diversion_rate is None else f"{paper.landfill_diversion_rate:.1%}"
    lines = [
        f"{results.workshop.name}, {results.start} to {results.end}, {counted(results.batches, 'batch')}"
        + (" (invented records)" if results.workshop.invented else ""),
        *([results.grant.sentence()] if results.grant else []),
        "",
        "Paper, kg as weighed",
        *table(
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
        *table(
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
        *table(
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


def _by_site(results: Results) -> list[str]:
    """Return the tables by site, where the batches name more than one."""
    sites = len(results.counted.tally.sites)
    if sites < 2:
        return []
    if "site" not in results.inventory.groups:
        return [f"{sites} sites; --by-site gives the figures of each, --site those of one", ""]
    from impact.progress import track
    from impact.sites import account_of, by_site
    from impact.sitetables import site_tables

    return [*site_tables(track(by_site(results), "sites", unit="sites"), account_of(results, "together")), ""]
