"""The command `breakeven`: where a part stops or starts to be lower than plastic, and what to measure next."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impact.terminal import FOLDER, JSON, days_of, narrowing_for_part, open_folder, part_of, stop

if TYPE_CHECKING:
    from impact.breakeven import BreakEven
    from impact.measure import SpreadShare
    from impact.results import Interval

SCHEMA = "impact-breakeven/1"
LEAST = 0.01
"""Share of the spread under which an input has no line of its own in the text; --json has them all. A choice of ours."""


@click.command()
@FOLDER
@narrowing_for_part
@JSON
def breakeven(
    folder: Path,
    part: str | None,
    period: str | None,
    site: str | None,
    seed: int | None,
    draws: int | None,
    as_json: bool,
) -> None:
    """Print where a part of FOLDER emits as much as its plastic part, and what to measure next.

    Each variable is changed alone: drying, electricity, pressings, binder-dose, service-life, reject-rate.

    Example: impact breakeven impact-demo --part tool-tray
    """
    from impact.problems import ProblemsError

    try:
        document = _document(folder, part, period, site, seed, draws)
    except ProblemsError as error:
        stop(error.problems)
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False) if as_json else as_text(document))


def _document(
    folder: Path, part: str | None, period: str | None, site: str | None, seed: int | None, draws: int | None
) -> dict[str, Any]:
    """Return everything that the command says, as the JSON contract has it."""
    days = days_of(period)
    opened = open_folder(folder)
    from impact.assessment import DEFAULT_DRAWS, DEFAULT_SEED
    from impact.breakeven import breakeven as solve
    from impact.measure import measure_next

    wanted = part_of(part, opened)
    name = str(opened.narrowed(period=days, part=wanted, site=site)["part"].iloc[0])
    batches = opened.narrowed(period=days, site=site)
    settings = {
        "seed": DEFAULT_SEED if seed is None else seed,
        "draws": DEFAULT_DRAWS if draws is None else draws,
    }
    run: dict[str, Any] = {**settings, "names": opened.names, "all_batches": opened.batches}
    found = solve(opened.workshop, batches, opened.factors, name, **run)
    spread = measure_next(opened.workshop, batches, opened.factors, name, **run)
    dates = batches["date"]
    start, end = days or (dates.min().date(), dates.max().date())
    return {
        "schema": SCHEMA,
        "workshop": {"name": opened.workshop.name, "invented": opened.workshop.invented},
        "period": {"start": start.isoformat(), "end": end.isoformat()},
        "settings": {**settings, "coverage": 0.95},
        **as_dict(found, spread),
    }


def as_dict(found: BreakEven, spread: tuple[SpreadShare, ...]) -> dict[str, Any]:
    """Return the break-even points and the shares of the spread as the JSON contract has them."""
    return {
        "part": found.part,
        "difference_kgco2e": _interval(found.difference),
        "chance_lower": found.chance_lower,
        "no_comparison": found.no_comparison,
        "breakeven": [crossing.as_dict() for crossing in found.crossings],
        "measure_next": [share.as_dict() for share in spread],
    }


def _interval(value: Interval | None) -> dict[str, float] | None:
    return value.as_dict() if value else None


def as_text(document: dict[str, Any]) -> str:
    """Return the document of the command as text; it holds no figure that the document does not hold."""
    settings, period = document["settings"], document["period"]
    invented = " (invented records)" if document["workshop"]["invented"] else ""
    lines = [
        f"{document['part']}, {document['workshop']['name']}, {period['start']} to {period['end']}{invented}",
        f"seed {settings['seed']}, {settings['draws']} draws, intervals of {settings['coverage']:.0%}",
        "",
    ]
    if document["no_comparison"]:
        return "\n".join([*lines, f"no break-even: {document['no_comparison']}"])
    difference = _spelled(document["difference_kgco2e"])
    lines += [
        f"Moulded less plastic: {difference} kg CO2e per good part; "
        f"lower in {document['chance_lower']:.0%} of the draws",
        "",
        "Break-even, each variable changed alone",
        *(_crossing_line(row) for row in document["breakeven"]),
        "",
        "What to measure next: where the spread (variance) of the difference comes from",
        *_share_lines(document["measure_next"]),
    ]
    return "\n".join(lines)


def _spelled(value: dict[str, float]) -> str:
    return f"{value['value']:.4g} ({value['low']:.4g} to {value['high']:.4g})"


def _crossing_line(row: dict[str, Any]) -> str:
    """Return one variable as a line."""
    head = f"  {row['variable']:<13} now {row['now']:.4g} {row['unit']}: "
    share = f"{row['share_crossing']:.0%} of the draws have a break-even there"
    if row["at"] is None:
        low, high = row["range"]["low"], row["range"]["high"]
        return f"{head}{row['answer']} from {low:.4g} to {high:.4g}; {share}"
    return f"{head}break-even at {_spelled(row['at'])}, lower {row['lower_side']} it; {share}"


def _share_lines(rows: list[dict[str, Any]]) -> list[str]:
    """Return the inputs with a share to speak of as a line each, and one line for all others."""
    told = [row for row in rows if abs(row["share"]) >= LEAST]
    others = f"  All other inputs: less than {LEAST:.0%} of the spread each; --json names them"
    return [*(_share_line(row) for row in told), *([others] if len(told) < len(rows) else [])]


def _share_line(row: dict[str, Any]) -> str:
    if row["share"] <= 0.0:
        return f"  {row['sentence']}"
    return f"  {row['sentence']} ({row['share']:.0%}; the interval would narrow by {row['narrower']:.0%} at most)"
