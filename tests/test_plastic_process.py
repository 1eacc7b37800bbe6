"""The process of the plastic part, and recycled polymer as a case.

Checked against, from outside:

- a printed part is resin with its losses and the printer's electricity, 0.1895 kW over 30 g an hour: a published mean power
  of desktop printers (the row's source), the rate an assumption
- recycled polypropylene, made and formed: UK Government GHG conversion factors 2025, row 19_505_5147_15_1 (secondary copy),
  1,312.57172 kg CO2e per tonne against 2,577.57172 of primary
"""

from __future__ import annotations

import pytest

from impact.account.results import PartResult, Results
from impact.base.serial import plain
from impact.cli.totals_text import as_text
from impact.factors.factorset import read_factors
from impact.study import Study, assess
from impact.trace.explanation import derivations
from tests.frames import PLAIN, batches, part, workshop


def run(country: str = "USA", **changes: object) -> Study:
    return assess(workshop(part(**changes), country=country), batches([PLAIN]), read_factors(), draws=200)


def only(results: Results) -> PartResult:
    (found,) = results.parts
    assert found.plastic is not None
    return found


def value(key: str, *regions: str) -> float:
    return read_factors().choose(key, (*regions, "world")).factor.value


def test_printed_part_is_resin_with_losses_and_printing_electricity_never_formed() -> None:
    results = run(process="3d-printing")
    printed = only(results)
    assert printed.plastic is not None
    assert (printed.plastic.route, printed.plastic.other_route) == ("resin", None)
    grid = results.settings.electricity_kgco2e_per_kwh
    resin = value("polymer.resin.PP", "USA", "North America") / (1.0 - 0.05) + 0.1895 / 0.030 * grid
    assert printed.plastic.stages["material"] == pytest.approx(0.03 * resin, rel=3e-3)  # the row has 6.3 kWh/kg


def test_formed_row_covers_the_other_processes_and_the_results_say_that_the_process_does_not_enter() -> None:
    figures = {process: only(run(process=process)).plastic for process in ("injection-moulding", "thermoforming")}
    assert {plastic.route for plastic in figures.values() if plastic} == {"formed"}
    for process in figures:
        (told,) = [entry.text for entry in run(process=process).assumptions if entry.code == "formed-process"]
        assert f"pot ({process.replace('-', ' ')})" in told
        assert "does not enter" in told
    assert "formed-process" not in {entry.code for entry in run(process="3d-printing").assumptions}


def test_recycled_polymer_stands_beside_the_main_comparison_as_a_case() -> None:
    results = run("GBR")
    found = only(results)
    assert found.plastic is not None
    assert found.recycled is not None
    saved = found.plastic.footprint.value - found.recycled.footprint.value
    assert saved == pytest.approx(0.03 * (2577.57172 - 1312.57172) / 1000.0, rel=1e-9)
    assert found.recycled.difference.value == pytest.approx(found.difference.value + saved, rel=1e-9)  # type: ignore[union-attr]
    assert found.recycled.chance_lower <= found.chance_lower  # type: ignore[operator]
    assert plain(results)["parts"][0]["recycled_plastic"]["route"] == "formed"
    assert "of recycled polymer" in as_text(results)


def test_recycled_polymer_of_a_printed_part_is_resin_where_the_tables_hold_one() -> None:
    found = only(run(process="3d-printing"))
    assert found.plastic is not None
    assert found.recycled is not None
    assert found.recycled.route == "resin"
    saved = found.plastic.footprint.value - found.recycled.footprint.value
    primary, recycled = (value(f"polymer.{kind}.PP", "USA", "North America") for kind in ("resin", "recycled-resin"))
    assert saved == pytest.approx(0.03 * (primary - recycled) / 0.95, rel=1e-9)


def test_recycled_polymer_is_left_out_where_the_tables_hold_none() -> None:
    assert only(run("GBR", process="3d-printing")).recycled is None
    assert only(run(polymer="ABS")).recycled is None


def test_recycled_polymer_has_a_derivation_of_each_figure() -> None:
    known = derivations(run("GBR"))
    wanted = {"footprint_kgco2e.value", "difference_kgco2e.low", "chance_lower"}
    assert {f"parts.pot.recycled_plastic.{name}" for name in wanted} <= known.keys()
