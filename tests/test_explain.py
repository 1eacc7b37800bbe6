"""The derivation of figures: every figure of a result follows from its leaves."""

from __future__ import annotations

import importlib
import json
import math
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

import impact
from impact.account.results import Results
from impact.api import load
from impact.base.figurenames import figures
from impact.base.serial import plain
from impact.cli.commands import main
from impact.core.node import Node, below, evaluate, first
from impact.factors.factorset import read_factors
from impact.records.demonstration import DEMO
from impact.study import assess
from impact.trace.explanation import UNTOLD, chosen, derivations, explanation, nearest_figures
from impact.trace.leaves import FACTOR, SPREAD
from tests.folders import TOML, swap, write_folder
from tests.frames import PLAIN, batches, part, workshop

SCHEMA = json.loads((Path(impact.__file__).parent / "schemas" / "explain.schema.json").read_text(encoding="utf-8"))
DRAWS = 400
NET = "net_kgco2e"


@cache
def demo() -> tuple[Results, dict[str, Node]]:
    results = load(DEMO).assess(draws=DRAWS)
    return results, derivations(results)


@pytest.fixture(scope="module", autouse=True)
def _each_once() -> Iterator[None]:
    """Derive the figures of the same results once: the command derives all, whichever it is asked for."""
    known: dict[str, dict[str, Node]] = {}

    def once(results: Results) -> dict[str, Node]:
        document = json.dumps(results.as_totals())
        if document not in known:
            known[document] = derivations(results)
        return known[document]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("impact.trace.explanation.derivations", once)
        yield


def check_all(results: Results, known: dict[str, Node]) -> None:
    """Check that every figure of the totals has a derivation that gives it, from its leaves alone."""
    wanted = figures(results.as_totals())
    assert list(known) == list(wanted)
    wrong = {
        name: (wanted[name], found)
        for name, node in known.items()
        if not math.isclose(found := first(evaluate(node)), wanted[name], rel_tol=1e-9, abs_tol=1e-300)
    }
    assert wrong == {}
    assert {name for name, node in known.items() if not math.isclose(node.value, wanted[name], rel_tol=1e-9)} == set()


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["explain", *words, "--draws", "200"])


def run_json(*words: str) -> dict[str, Any]:
    done = run(*words, "--json")
    assert done.exit_code == 0, done.output
    document: dict[str, Any] = json.loads(done.stdout)
    Draft202012Validator(SCHEMA).validate(document)
    return document


# -- every figure ----------------------------------------------------------------------------------------------------


def test_derivations_every_figure_of_the_demo_follows_from_its_leaves() -> None:
    check_all(*demo())


def test_derivations_every_figure_of_the_demo_has_a_derivation_of_its_own() -> None:
    assert [name for name, node in demo()[1].items() if node.label == UNTOLD] == []


def test_derivations_every_figure_of_a_small_workshop_follows_from_its_leaves(tmp_path: Path) -> None:
    results = load(write_folder(tmp_path / "small")).assess(draws=DRAWS, seed=5)
    known = derivations(results)
    check_all(results, known)
    assert [name for name, node in known.items() if node.label == UNTOLD] == []


def test_derivations_of_parts_that_claim_no_replacement_have_ends_too() -> None:
    results = assess(workshop(part(displacement=None)), batches([PLAIN]), read_factors(), draws=20)
    known = derivations(results)
    assert [evaluate(known[f"displaced_plastic_kgco2e.{end}"]) for end in ("value", "low", "high")] == [0.0, 0.0, 0.0]
    check_all(results, known)


def test_derivations_narrowed_to_a_part_and_a_period_follow_from_their_leaves() -> None:
    from impact.records.selection import parse_period

    results = load(DEMO).assess(draws=DRAWS, part="tool-tray", period=parse_period("2026-Q2"))
    check_all(results, derivations(results))


def test_derivations_grant_and_own_values_follow_from_their_leaves(tmp_path: Path) -> None:
    grants = '\n[[grants]]\nname = "Fund"\nstart = 2026-01-01\nend = 2026-01-31\nshare = 0.4\n'
    folder = write_folder(tmp_path / "granted", workshop=swap(TOML, "[targets]", f"{grants}\n[targets]"))
    (folder / "factors.csv").write_text(
        "id,what,value,unit,low,high,distribution,geography,source,locator,evidence\n"
        "part.moisture,own,0.07,1,0.05,0.09,beta,world,own,scale,own value\n"
        "polymer.resin.PP,own,1.7,kgCO2e/kg,1.5,2,lognormal,world,own,letter,own value\n"
        "fibre.modulus,own,0.8,GPa,0.5,1.2,lognormal,world,own,bending,own value\n",
        encoding="utf-8",
    )
    results = load(folder).assess(draws=DRAWS, grant="fund")
    known = derivations(results)
    check_all(results, known)
    assert "own_values.with_shipped.net_kgco2e.low" in known
    (share,) = [node for node in below(known[f"{NET}.high"]) if node.label == "share of Fund"]
    assert share.value == 0.4


def test_derivations_blanks_own_rejects_and_parts_without_success_follow_from_their_leaves() -> None:
    blank = dict.fromkeys(PLAIN.keys() - {"paper.corrugated_kg", "good_parts"}, float("nan")) | {
        "paper.corrugated_kg": 0.6, "good_parts": 10.0, "binder": "rice-paste", "rejects_to": "", "trim_to": "",
    }  # fmt: skip
    pulped = {**PLAIN, "paper.corrugated_kg": 0.0, "own_rejects_kg": 0.6}
    frame = batches([
        PLAIN, blank, pulped, {**PLAIN, "part": "lost", "good_parts": 0.0, "rejects": 11.0},
        {**PLAIN, "part": "seed-tray", "fate": "landfill"},
    ])  # fmt: skip
    bench = workshop(
        part(), part("lost"), part("seed-tray", wet_use=True),
        gas_collection=0.5, landfill_parameters="measured", end_of_life=None, part_moisture=None,
    )  # fmt: skip
    results = assess(bench, frame, read_factors(), draws=DRAWS)
    known = derivations(results)
    check_all(results, known)
    (loss,) = [
        node
        for node in below(known["parts.pot.stages_kgco2e.end_of_life"])
        if node.label == "fibre in parts: corrugated"
    ]
    assert loss.details["records"] == 3  # the batch of own rejects alone takes the make-up of the others
    # the grade's moisture weighs in the make-up of the own rejects; a dose is of dry binder: its solids do not enter
    filled = {"part.moisture", "binder.dose.rice-paste", "paper.moisture.corrugated"}
    assert {choice.factor.key for choice in loss.details["blanks"]} == filled


# -- what the leaves are ---------------------------------------------------------------------------------------------


def test_derivations_leaves_draw_again_what_the_run_drew() -> None:
    results, known = demo()
    drawn = {node.label: node for node in below(known[f"{NET}.low"]) if node.equation in (FACTOR, SPREAD)}
    assert len(drawn) > 50
    spread = next(node for node in drawn.values() if node.details["choice"].factor.distribution == "lognormal")
    first_time, second_time = evaluate(spread), evaluate(spread)
    assert np.shape(first_time) == (1 + results.settings.draws,)
    assert np.array_equal(np.asarray(first_time), np.asarray(second_time))
    assert np.ptp(np.asarray(first_time)[1:]) > 0.0


def test_derivations_interval_ends_need_the_draws_of_their_leaves() -> None:
    _, known = demo()
    (tree,) = [node for _, node in known[f"{NET}.low"].inputs]
    values = np.asarray(evaluate(tree))
    low, high = np.quantile(values[1:], [0.025, 0.975])
    assert first(evaluate(known[f"{NET}.low"])) == pytest.approx(low, rel=1e-12)
    assert first(evaluate(known[f"{NET}.high"])) == pytest.approx(high, rel=1e-12)


def test_evaluate_changed_leaf_changes_the_figure() -> None:
    known = derivations(load(DEMO).assess(draws=100))
    before = first(evaluate(known[f"{NET}.value"]))
    (loss,) = {
        id(node): node for node in below(known[f"{NET}.value"])
        if node.equation is FACTOR and node.details["choice"].factor.key == "electricity.loss"
    }.values()  # fmt: skip
    loss.function = lambda drawn: 0.5
    assert first(evaluate(known[f"{NET}.value"])) > before * 1.2


def test_derivations_records_are_those_of_the_table() -> None:
    results, known = demo()
    frame = results.batch_records
    for grade in ("corrugated", "office"):
        column = frame[f"paper.{grade}_kg"]
        leaves = {
            node.label: node
            for node in below(known[f"paper.by_grade.{grade}.collected_kg"])
            if node.details.get("read")
        }
        assert sum(leaf.details["records"] for leaf in leaves.values()) == (column > 0.0).sum()
        assert sum(leaf.value for leaf in leaves.values()) == pytest.approx(column.sum())
        assert {leaf.details["of"] for leaf in leaves.values()} == {len(frame)}


# -- names -----------------------------------------------------------------------------------------------------------


def test_chosen_name_of_a_figure_an_interval_a_start_and_nothing() -> None:
    known = ["a.value", "a.low", "a.high", "b.c", "b.d", "b.value"]
    assert chosen("a.low", known) == (["a.low"], [])
    assert chosen("a", known) == (["a.value", "a.low", "a.high"], [])
    assert chosen("b", known) == ([], ["b.c", "b.d", "b.value"])
    assert chosen("c", known) == ([], [])


def test_explain_unknown_figure_is_wrong_usage_and_names_the_nearest() -> None:
    done = run(str(DEMO), "nett_kgco2e")
    assert done.exit_code == 2
    assert 'there is no figure "nett_kgco2e"' in done.output
    assert 'did you mean "net_kgco2e"?' in done.output


@pytest.mark.parametrize("typed", ["footprint", "foot print", "parts.footprint_kgco2"])
def test_explain_unknown_figure_names_figures_with_the_word_and_how_to_list(typed: str) -> None:
    done = run(str(DEMO), typed)
    assert done.exit_code == 2
    assert "Accepted: the name of a figure, such as parts.tool-tray.footprint_kgco2e, " in done.output
    assert "The start of a name" in done.output
    assert "more" not in done.output


@pytest.mark.parametrize(
    ("figure", "told"),
    [(("net",), '"net" is only the start of names'), ((), "no figure is named"), (("parts",), '"parts" is only')],
)
def test_explain_depth_without_a_whole_name_is_wrong_usage_and_names_the_nearest(
    figure: tuple[str, ...], told: str
) -> None:
    done = run(str(DEMO), *figure, "--depth", "2")
    assert done.exit_code == 2
    assert f"--depth: {told}" in done.output
    (near,) = re.findall(r"such as ([^,]+?)(?:,.*)?\.$", done.output.strip())
    assert run(str(DEMO), near, "--depth", "1").exit_code == 0


def test_nearest_figures_takes_intervals_as_one_and_words_between_dots() -> None:
    known = ["net.value", "net.low", "net.high", "parts.cup.good", "parts.cup.mass", "batches"]
    assert nearest_figures("goods", known)[0] == "parts.cup.good"
    assert nearest_figures("nett", known)[0] == "net"
    assert len(nearest_figures("", known)) == 4


def test_explain_start_of_a_word_lists_what_begins_so() -> None:
    done = run(str(DEMO), "net_kgco2")
    assert done.exit_code == 0
    assert "net_kgco2e.value" in done.output


def test_explain_without_a_figure_lists_all_and_a_start_lists_what_is_under_it() -> None:
    names = figures(load(DEMO).assess(draws=200).as_totals())
    listed = run_json(str(DEMO))
    assert {one["figure"]: one["value"] for one in listed["figures"]} == pytest.approx(names, rel=1e-9)
    assert listed["steps"] == []
    text = run(str(DEMO), "parts.tool-tray").output
    assert "parts.tool-tray.stages_kgco2e.mould " in text
    assert "sorting-cup" not in text


# -- the document ------------------------------------------------------------------------------------------------------


def recomputed(step: dict[str, Any], steps: dict[int, dict[str, Any]]) -> float | None:
    """Return a step's central value from those of its inputs; None for a leaf and what needs the draws."""
    values = [steps[one["step"]]["value"] for one in step["inputs"]]
    plain: dict[str, Callable[[list[float]], float]] = {
        "sum": sum, "product": math.prod, "centre": sum, "absolute": lambda found: abs(found[0]),
        "difference": lambda found: found[0] - found[1], "ratio": lambda found: found[0] / found[1],
    }  # fmt: skip
    name = step["operation"]
    if name in plain:
        return float(plain[name](values))
    module, _, function = name.rpartition(".")
    if not module or any(" of " in one["as"] or one["as"][-1].isdigit() for one in step["inputs"]):
        return None  # a leaf, or a function of lists and records, which `evaluate` covers
    arguments = {one["as"].replace(" ", "_"): value for one, value in zip(step["inputs"], values, strict=True)}
    return float(getattr(importlib.import_module(module), function)(**arguments))


@pytest.mark.parametrize("figure", [NET, "parts.tool-tray.plastic", "disposal", "paper", "parts.drip-saucer.good"])
def test_explain_document_fits_its_schema_and_each_step_follows_from_its_inputs(figure: str) -> None:
    results, known = demo()
    names = [name for name in known if name == figure or name.startswith(f"{figure}.")]
    document = plain(explanation(results, names, known))
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator(SCHEMA).validate(json.loads(json.dumps(document)))
    steps = {step["step"]: step for step in document["steps"]}
    assert all(one["step"] < step["step"] for step in steps.values() for one in step["inputs"])
    again = {number: recomputed(step, steps) for number, step in steps.items()}
    assert {number for number, value in again.items() if value is not None} or len(steps) == 1
    for number, value in again.items():
        if value is not None:
            assert steps[number]["value"] == pytest.approx(value, rel=1e-12), steps[number]
    for one in document["figures"]:
        assert one["recomputed"] == pytest.approx(one["value"], rel=1e-9)


def test_explain_document_equations_have_a_formula_and_a_source_and_rows_a_citation() -> None:
    steps = run_json(str(DEMO), NET)["steps"]
    equations = [step for step in steps if step["operation"].startswith("impact.")]
    assert {step["operation"].split(".")[-1] for step in equations} >= {
        "net_account", "decayed_share", "emitted_by_site", "delivered_electricity", "mould_per_pressing", "formed_route",
    }  # fmt: skip
    assert all(step["formula"] and step["source"] for step in equations)
    rows = [step["leaf"]["factor"] for step in steps if step["leaf"] and "factor" in step["leaf"]]
    assert rows
    assert all(row["citation"] and row["evidence"] and row["unit"] for row in rows)
    assert {step["leaf"]["kind"] for step in steps if step["leaf"]} == {
        "factor",
        "error",
        "records",
        "setting",
        "number",
    }


def test_explain_document_units_of_the_accounts_are_emissions() -> None:
    _, known = demo()
    for name, node in known.items():
        for word in ("kgco2e", "kgco2", "kg"):
            if name.removesuffix(".value").removesuffix(".low").removesuffix(".high").endswith(f"_{word}"):
                assert node.unit == {"kgco2e": "kgCO2e", "kgco2": "kgCO2", "kg": "kg"}[word], name
                break


# -- the text ----------------------------------------------------------------------------------------------------------


def test_explain_text_names_records_evidence_settings_rows_and_citations() -> None:
    text = run(str(DEMO), f"{NET}.value").output
    joined = " ".join(text.split())
    assert "sum over 75 of 80 records" in joined or " of 80 records, metered: transport" in joined
    assert "records, weighed: paper × (1 − moisture), where moisture is recorded" in joined
    assert "electricity.direct/US-RFCM, US-RFCM 2023, lognormal" in joined
    assert "eGRID2023" in joined.split("Sources")[1]
    assert "vol. 5, ch. 3, eq. 3.2" in joined.split("Sources")[1]
    assert "workshop.toml, [fates.corrugated] landfill, the waste of four neighboring shops" in joined
    assert "parts.csv, tool-tray, displacement" in joined
    assert "from memory [" in joined
    assert max(map(len, text.splitlines())) <= 100


def test_explain_text_of_an_interval_says_which_quantile_of_how_many_draws() -> None:
    text = run(str(DEMO), "parts.tool-tray.difference_kgco2e", "--seed", "7").output
    assert "2.5 % quantile of 200 draws, seed 7" in text
    assert "97.5 % quantile of 200 draws, seed 7" in text


def test_explain_text_depth_stops_the_tree() -> None:
    shallow = run(str(DEMO), f"{NET}.value", "--depth", "2").output
    assert "parts made: " in shallow
    assert "records" not in shallow.split("Sources")[0].replace("(invented records)", "")


def test_explain_text_of_a_wet_part_narrowed_to_it_counts_its_records_alone() -> None:
    text = run(str(DEMO), "parts.drip-saucer.good", "--part", "drip-saucer").output
    assert "good parts: 13 = sum over 3 of 3 records: good parts" in text
