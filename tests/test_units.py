from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from impact.base.spellings import CANONICAL, UnitError, accepted_units, fold, spellings, unit_name
from impact.base.units import (
    _TABLE_UNITS,
    LARGEST,
    LEAST,
    SMALLEST,
    parse_emission,
    parse_money,
    parse_number,
    parse_price,
    parse_quantity,
    parse_rate,
    parse_share,
    product_unit,
    registry,
    split_header,
    to_canonical,
    unit_factor,
)
from impact.records.amounts import quantities
from impact.records.energy import Energy, parse_energy
from impact.records.workshop import Device
from impact.tables.table import Column
from impact.tables.texts import Coded
from tests.ratios import FILE, made

DEVICES = {
    "blender": Device("blender", 700.0, load=0.7),
    "fan 2": Device("fan 2", 45.0, metered=True),
    "3d printer": Device("3d printer", 120.0),
}


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        # 1 lb = 0.45359237 kg and 1 oz = 1/16 lb exactly (international avoirdupois, NIST Handbook 44, app. C).
        ("2 lb", "mass", 0.90718474),
        ("2 lbs.", "mass", 0.90718474),
        ("16 Ounces", "mass", 0.45359237),
        ("1 short ton", "mass", 907.18474),
        ("1 long ton", "mass", 1016.0469088),
        ("3", "mass", 3.0),
        ("3 Kg", "mass", 3.0),
        ("3KGS", "mass", 3.0),
        ("3 kilos", "mass", 3.0),
        ("250 g.", "mass", 0.25),
        ("250 gm", "mass", 0.25),
        ("0.5 t", "mass", 500.0),
        (".5 tonnes", "mass", 500.0),
        ("1e3 mg", "mass", 0.001),
        ("+3.", "mass", 3.0),
        ("−0", "mass", 0.0),
        # 1 kWh = 3.6 MJ exactly (BIPM SI brochure, 9th ed., table 8: hour).
        ("3.6 MJ", "energy", 1.0),
        ("3.6mj", "energy", 1.0),
        ("0.14 kwh", "energy", 0.14),
        ("0.14 KWH", "energy", 0.14),
        ("140 kW h", "energy", 140.0),
        ("140 Wh", "energy", 0.14),
        ("1 MWh", "energy", 1000.0),
        # 1 US gallon = 231 in³ = 3.785411784 L exactly (NIST Handbook 44, app. C); 1 imperial gallon = 4.54609 L exactly.
        ("1 US gal", "volume", 3.785411784),
        ("1 imp gal", "volume", 4.54609),
        ("2 m3", "volume", 2000.0),
        ("2 m^3", "volume", 2000.0),
        ("120 cm³", "volume", 0.12),
        ("5 ltr", "volume", 5.0),
        ("5 l", "volume", 5.0),
        # 1 mile = 1.609344 km exactly (NIST Handbook 44, app. C).
        ("2 miles", "length", 3.218688),
        ("500 m", "length", 0.5),
        ("5 kms", "length", 5.0),
        ("90 mins", "time", 1.5),
        ("90 min.", "time", 1.5),
        ("1.5 hrs", "time", 1.5),
        ("1.5 h.", "time", 1.5),
        ("36 sec", "time", 0.01),
        ("0.7 kw", "power", 700.0),
        ("700 watts", "power", 700.0),
        ("18 months", "life", 1.5),
        ("2 yrs", "life", 2.0),
    ],
)
def test_parse_quantity_spelling_gives_canonical_value(text: str, dimension: str, value: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "code"),
    [
        ("2 ton", "mass", "ambiguous-unit"),
        ("2 Tons", "mass", "ambiguous-unit"),
        ("2 Mg", "mass", "ambiguous-unit"),
        ("2 m", "mass", "ambiguous-unit"),
        ("2 gr", "mass", "ambiguous-unit"),
        ("2 gal", "volume", "ambiguous-unit"),
        ("2 pt", "volume", "ambiguous-unit"),
        ("2 oz", "volume", "ambiguous-unit"),
        ("2 ML", "volume", "ambiguous-unit"),
        ("2 m", "time", "ambiguous-unit"),
        ("2 m", "life", "ambiguous-unit"),
        ("2 cal", "energy", "ambiguous-unit"),
        ("2 mwh", "energy", "ambiguous-unit"),
        ("2 pcs", "mass", "unknown-unit"),
        ("2 kilogram meter", "mass", "unknown-unit"),
        ("2 g/L", "mass", "unknown-unit"),
        ("2 L", "mass", "wrong-dimension"),
        ("2 min", "energy", "wrong-dimension"),
        ("1,234", "mass", "ambiguous-number"),
        ("1,234 kg", "mass", "ambiguous-number"),
        ("3,5", "mass", "decimal-comma"),
        ("0,125", "mass", "decimal-comma"),
        ("1,234.5", "mass", "thousands-separator"),
        ("1.234,5", "mass", "thousands-separator"),
        ("1,234,567", "mass", "thousands-separator"),
        ("1.2.3", "mass", "bad-number"),
        ("1 234", "mass", "bad-number"),
        ("", "mass", "bad-number"),
        ("-", "mass", "bad-number"),
        ("n/a", "mass", "bad-number"),
        ("kg", "mass", "bad-number"),
        ("٣", "mass", "bad-number"),
        ("0x10", "mass", "unknown-unit"),
        ("1_000", "mass", "unknown-unit"),
        ("-3 kg", "mass", "negative-number"),
        ("−3 kg", "mass", "negative-number"),
        ("nan", "mass", "not-finite"),
        ("-inf", "mass", "not-finite"),
        ("1e400", "mass", "too-large"),
        ("1e12 t", "mass", "too-large"),
        (True, "mass", "bad-number"),
        (math.nan, "mass", "not-finite"),
        (math.inf, "mass", "not-finite"),
        (-1.0, "mass", "negative-number"),
    ],
)
def test_parse_quantity_doubtful_text_is_refused(text: str, dimension: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, dimension)
    assert caught.value.code == code
    assert caught.value.accepted


def test_parse_quantity_ambiguous_number_gives_both_readings() -> None:
    with pytest.raises(UnitError, match=r"1234 or 1\.234"):
        parse_quantity("1,234 kg", "mass")


def test_parse_quantity_unknown_unit_names_the_nearest() -> None:
    with pytest.raises(UnitError, match=r'did you mean "kg"'):
        parse_quantity("2 kilogrm", "mass")


def test_parse_quantity_default_unit_applies_to_bare_numbers_only() -> None:
    assert parse_quantity("250", "mass", "g") == pytest.approx(0.25, rel=1e-12)
    assert parse_quantity("250 kg", "mass", "g") == 250.0


@given(st.one_of(st.just(0.0), st.floats(min_value=SMALLEST, max_value=LARGEST, allow_nan=False)))
def test_parse_number_any_written_float_comes_back(value: float) -> None:
    assert parse_number(repr(value)) == (value, "")


@given(st.text(max_size=20), st.sampled_from(sorted(CANONICAL)))
def test_parse_quantity_any_text_is_an_amount_or_a_unit_error(text: str, dimension: str) -> None:
    try:
        value = parse_quantity(text, dimension)
    except UnitError:
        return
    assert 0.0 <= value <= LARGEST


@pytest.mark.parametrize(
    ("text", "value"),
    [("8 %", 0.08), ("8%", 0.08), ("0.08", 0.08), ("1", 1.0), ("100 %", 1.0), (0, 0.0), ("8 percent", 0.08)],
)
def test_parse_share_accepted_forms_give_a_fraction(text: str | float, value: float) -> None:
    assert parse_share(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("8", "bad-share"),
        ("1.01", "bad-share"),
        ("101 %", "bad-share"),
        ("-8 %", "negative-number"),
        ("8 g", "unknown-unit"),
    ],
)
def test_parse_share_outside_its_range_is_refused(text: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_share(text)
    assert caught.value.code == code


def test_parse_share_bare_number_above_one_says_what_to_write() -> None:
    with pytest.raises(UnitError, match=r'a bare number above 1 is no share.*"8 %" or 0\.08'):
        parse_share("8")


def test_parse_share_under_percent_header_reads_bare_numbers_as_per_cent() -> None:
    assert parse_share("8", percent=True) == pytest.approx(0.08, rel=1e-12)
    assert parse_share("8 %", percent=True) == pytest.approx(0.08, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "energy"),
    [
        ("0.14 kWh", Energy(0.14, "metered")),
        ("0.14", Energy(0.14, "metered")),
        ("0", Energy(0.0, "metered")),
        ("0.3 kWh / 3", Energy(0.1, "metered")),
        ("700 W x 12 min", Energy(0.14, "nameplate")),
        ("700W×12min", Energy(0.14, "nameplate")),
        ("0.7 kW * 0.2 h", Energy(0.14, "nameplate")),
        ("12 min x 700 W", Energy(0.14, "nameplate")),
        ("700 W x 12 min / 2", Energy(0.07, "nameplate")),
        ("blender 12 min", Energy(0.098, "nameplate", "blender")),
        ("Blender x 12 min ÷ 2", Energy(0.049, "nameplate", "blender")),
        ("fan 2 8 h", Energy(0.36, "metered", "fan 2")),
        ("Fan-2 8 h", Energy(0.36, "metered", "fan 2")),
        ("3D printer 2 hrs", Energy(0.24, "nameplate", "3d printer")),
    ],
)
def test_parse_energy_accepted_forms_give_amount_and_evidence(text: str, energy: Energy) -> None:
    found = parse_energy(text, DEVICES)
    assert found.kwh == pytest.approx(energy.kwh, rel=1e-12)
    assert (found.evidence, found.device) == (energy.evidence, energy.device)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("blendr 12 min", "unknown-device"),
        ("fan 8 h", "unknown-device"),
        ("blender 12", "missing-unit"),
        ("blender 12 W", "wrong-dimension"),
        ("blender", "bad-number"),
        ("700 W x 12", "missing-unit"),
        ("700 x 12 min", "missing-unit"),
        ("700 W", "wrong-dimension"),
        ("12 min", "wrong-dimension"),
        ("0.3 kWh / 0", "bad-number"),
        ("-0.3 kWh", "negative-number"),
        ("nan", "not-finite"),
        ("blender 1,234 min", "ambiguous-number"),
        ("1e12 W x 1e12 h", "too-large"),
        ("a lot", "bad-number"),
    ],
)
def test_parse_energy_doubtful_entry_is_refused(text: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_energy(text, DEVICES)
    assert caught.value.code == code
    assert caught.value.read == text


def test_parse_energy_unknown_device_names_the_nearest() -> None:
    with pytest.raises(UnitError, match=r'did you mean "blender"'):
        parse_energy("blendr 12 min", DEVICES)


@given(st.text(max_size=24))
def test_parse_energy_any_text_is_an_amount_or_a_unit_error(text: str) -> None:
    try:
        energy = parse_energy(text, DEVICES)
    except UnitError:
        return
    assert 0.0 <= energy.kwh <= LARGEST


def test_parse_rate_forms_give_canonical_units() -> None:
    assert parse_rate("0.35 kWh per kg", "energy") == 0.35
    assert parse_rate("3.6 MJ/kg", "energy") == pytest.approx(1.0, rel=1e-12)
    assert parse_rate("0.45359237 kWh / lb", "energy") == pytest.approx(1.0, rel=1e-12)
    for bare in (0.35, "0.35", "0.35 kWh", "0.35 per kg"):
        with pytest.raises(UnitError) as caught:
            parse_rate(bare, "energy")
        assert (caught.value.code, caught.value.accepted) == ("missing-unit", '"0.35 kWh per kg"')


def test_parse_price_forms_give_price_per_kg() -> None:
    assert parse_price("1.10 per kg", "USD") == 1.1
    assert parse_price("0.45359237 USD / lb", "USD") == pytest.approx(1.0, rel=1e-12)
    with pytest.raises(UnitError, match="not the currency"):
        parse_price("1.10 EUR per kg", "USD")
    with pytest.raises(UnitError, match="unit of volume"):
        parse_price("1.10 per L", "USD")


def test_parse_money_other_currency_is_refused() -> None:
    assert parse_money("2.50 usd", "USD") == 2.5
    with pytest.raises(UnitError, match="not the currency"):
        parse_money("2.50 EUR", "USD")


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("corrugated [g]", "corrugated", "g"),
        (" drying[MJ] ", "drying", "MJ"),
        ("good parts", "good parts", None),
        ("odd [g", "odd [g", None),
        ("odd [g] x", "odd [g] x", None),
    ],
)
def test_split_header_unit_in_brackets_is_taken_off(header: str, name: str, unit: str | None) -> None:
    assert split_header(header) == (name, unit)


@pytest.mark.parametrize(
    ("unit", "canonical", "value"),
    [
        ("lbCO2e/MWh", "kgCO2e/kWh", 0.00045359237),
        ("gCO2e/kWh", "kgCO2e/kWh", 0.001),
        ("tCO2e/short_ton", "kgCO2e/kg", 1000 / 907.18474),
        ("kgCO2e/mile", "kgCO2e/km", 1 / 1.609344),
        ("kgCO2e/kg/km", "kgCO2e/kg/km", 1.0),
        ("kgCO2e/t/km", "kgCO2e/kg/km", 0.001),
        ("MJ/kg", "kWh/kg", 1 / 3.6),
        ("L/kg", "m3/kg", 0.001),
        ("GPa", "Pa", 1e9),
        ("g/kg", "1", 0.001),
        ("1", "kg/kg", 1.0),
        ("percent", "1", 0.01),
        ("1/year", "1/year", 1.0),
    ],
)
def test_to_canonical_unit_of_same_dimension_is_converted(unit: str, canonical: str, value: float) -> None:
    assert to_canonical(2.0, unit, canonical) == pytest.approx(2.0 * value, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "canonical", "code"),
    [
        ("kg", "kgCO2e", "wrong-dimension"),
        ("kgCO2e/kg", "kgCO2e/kWh", "wrong-dimension"),
        ("pcs", "kg", "unknown-unit"),
        ("ton", "kg", "unknown-unit"),
        ("9**9**9**9", "1", "unknown-unit"),
        ("kg**99", "kg", "unknown-unit"),
        ("__import__('os')", "kg", "unknown-unit"),
        ("kg/", "kg", "unknown-unit"),
        ("", "kg", "unknown-unit"),
    ],
)
def test_to_canonical_other_text_is_refused(unit: str, canonical: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        to_canonical(1.0, unit, canonical)
    assert caught.value.code == code


def test_registry_emission_is_no_mass() -> None:
    units = registry()
    assert not units.Quantity(1.0, "kgCO2e").check("[mass]")
    assert units.Quantity(1.0, "kgCO2e").check("[emission]")
    assert registry() is units


def test_unit_name_every_accepted_unit_is_its_own_spelling() -> None:
    for dimension in CANONICAL:
        for unit in accepted_units(dimension).split(", "):
            assert registry().Quantity(1.0, unit_name(unit, dimension)).to(CANONICAL[dimension]).magnitude > 0.0


def test_fold_case_spaces_and_hyphens_are_alike() -> None:
    assert fold(" Moulded_Fibre ") == fold("moulded-fibre") == fold("moulded  fibre")


def test_quantities_mixed_cells_equal_single_parses() -> None:
    texts = ["1", "2.5 lb", "", "0.25", "2.5 lb", "1e-3", "300 g"]
    values, faults = quantities(Column("", "", "g", Coded.of(texts)), "mass")
    wanted = [parse_quantity(text, "mass", "g") if text else math.nan for text in texts]
    np.testing.assert_allclose(values, wanted, rtol=1e-15)
    assert faults == []


def test_quantities_faulty_cells_are_listed_with_position() -> None:
    values, faults = quantities(Column("", "", None, Coded.of(["1", "x", "", "-2", "x", "1,234"])), "mass")
    assert [(index, error.code) for index, error in faults] == [
        (1, "bad-number"),
        (3, "negative-number"),
        (4, "bad-number"),
        (5, "ambiguous-number"),
    ]
    np.testing.assert_array_equal(values, [1.0] + [math.nan] * 5)


def test_quantities_numbers_equal_their_text() -> None:
    numbers = [0.0, 1.0, 2.25, math.nan, math.inf, -1.0, 1e13]
    values, faults = quantities(Column("", "", "MJ", np.array(numbers)), "energy")
    np.testing.assert_allclose(values, [0.0, 1 / 3.6, 2.25 / 3.6] + [math.nan] * 4, rtol=1e-12)
    assert [(index, error.code) for index, error in faults] == [
        (4, "not-finite"),
        (5, "negative-number"),
        (6, "too-large"),
    ]


@pytest.mark.parametrize(
    "values", [Coded.of([]), np.zeros(0), Coded.of(["", ""])], ids=["no text", "no number", "blank"]
)
def test_quantities_nothing_recorded_is_nan_without_fault(values: Coded | np.ndarray) -> None:
    found, faults = quantities(Column("", "", None, values), "mass")
    assert np.isnan(found).all()
    assert len(found) == len(values)
    assert faults == []


def test_quantities_unknown_header_unit_is_refused() -> None:
    with pytest.raises(UnitError, match="not a known unit of mass"):
        quantities(Column("", "", "stone", Coded.of(["1"])), "mass")


@pytest.fixture(scope="module")
def published() -> pint.UnitRegistry[Any]:
    """Return the unit library's own registry of a thousand units, with the emissions added."""
    units: pint.UnitRegistry[Any] = pint.UnitRegistry()
    for definition in (
        "kgCO2e = [emission]",
        "gCO2e = 0.001 * kgCO2e",
        "tCO2e = 1000 * kgCO2e",
        "MtCO2e = 1e9 * kgCO2e",
        "lbCO2e = pound / kilogram * kgCO2e",
        "m3 = meter ** 3",
    ):
        units.define(definition)
    return units


@pytest.mark.parametrize("dimension", list(CANONICAL))
def test_unit_factor_of_every_spelling_is_that_of_the_published_registry(
    dimension: str, published: pint.UnitRegistry[Any]
) -> None:
    for unit, words in spellings(dimension).items():
        expected = published.Quantity(1.0, unit).to(CANONICAL[dimension]).magnitude
        for word in words:
            assert unit_factor(word, dimension) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "dimension", "factor"),
    [
        ("g", "mass", 0.001), ("MWh", "energy", 1000.0), ("MJ", "energy", 1 / 3.6), ("US gal", "volume", 3.785411784),
        ("imp gal", "volume", 4.54609), ("day", "time", 24.0), ("month", "life", 1 / 12), ("kN", "force", 1000.0),
        ("mi", "length", 1.609344), ("in", "span", 25.4),
    ],
)  # fmt: skip
def test_unit_factor_of_a_round_size_is_exact(text: str, dimension: str, factor: float) -> None:
    assert unit_factor(text, dimension) == factor


@pytest.mark.parametrize("unit", sorted(_TABLE_UNITS))
def test_to_canonical_accepts_the_pairs_of_the_published_registry_and_no_others(
    unit: str, published: pint.UnitRegistry[Any]
) -> None:
    accepted = 0
    for other in _TABLE_UNITS:
        try:
            expected = published.Quantity(1.0, unit).to(other).magnitude
        except pint.DimensionalityError:
            with pytest.raises(UnitError, match="cannot be turned into"):
                to_canonical(1.0, unit, other)
        else:
            accepted += 1
            assert to_canonical(1.0, unit, other) == pytest.approx(expected, rel=1e-15)
    assert accepted > 0


_OF_ONE_DIMENSION = (
    ("kg", "lb", "short_ton", "mg"), ("kWh", "MJ", "BTU", "J"), ("m3", "mL", "gallon", "imperial_gallon"),
    ("km", "mile", "ft", "cm"), ("year", "month", "h", "s"), ("kgCO2e", "lbCO2e", "tCO2e"), ("percent", "ppm", "dimensionless"),
)  # fmt: skip
_PAIR = st.sampled_from(_OF_ONE_DIMENSION).flatmap(lambda units: st.tuples(*[st.sampled_from(units)] * 2))


@given(
    terms=st.lists(st.tuples(st.sampled_from("*/"), _PAIR, st.sampled_from(["", "^2", "**-1"])), min_size=1, max_size=4)
)
def test_to_canonical_of_products_is_that_of_the_published_registry(
    terms: list[tuple[str, tuple[str, str], str]], published: pint.UnitRegistry[Any]
) -> None:
    unit, other = ("1" + "".join(f"{mark}{pair[k]}{power}" for mark, pair, power in terms) for k in (0, 1))
    expected = published.Quantity(1.0, unit).to(other).magnitude
    assert to_canonical(1.0, unit, other) == pytest.approx(expected, rel=4e-15)


@pytest.mark.parametrize(
    ("first", "second", "sign", "unit"),
    [
        ("kg", "kgCO2e/kg", 1, "kgCO2e"), ("kg km", "kgCO2e/kg/km", 1, "kgCO2e"), ("1", "kg", -1, "1/kg"),
        ("kg", "kg", -1, "1"), ("kg", "km", 1, "kg km"), ("m3/kg", "kgCO2e/m3", 1, "kgCO2e/kg"),
        ("kgCO2e/kg", "km", -1, "kgCO2e/kg/km"), ("kg", "kgCO2/kg", 1, "kgCO2"), ("L", "L", 1, "L^2"),
    ],
)  # fmt: skip
def test_product_unit_cancels_equal_names(first: str, second: str, sign: int, unit: str) -> None:
    assert product_unit(first, second, sign=sign) == unit


def test_product_unit_of_a_name_that_is_no_unit_is_refused() -> None:
    with pytest.raises(pint.UndefinedUnitError, match="stone"):
        product_unit("kg", "stone")


NEEDLESS = {"dask", "matplotlib", "openpyxl", "pandas", "pydantic", "uncertainties"}


@pytest.mark.parametrize(
    ("work", "needed"),
    [
        ("load(DEMO, keep=False).assess(draws=100).as_totals()", set[str]()),
        ("load(DEMO).doubts(draws=1)", set[str]()),
        ("compose(load(DEMO).assess(draws=100), Request('funder')).derived()", {"openpyxl"}),
    ],
    ids=["totals", "check", "a report with its workbook"],
)
def test_work_on_the_demo_loads_no_library_that_it_can_do_without(work: str, needed: set[str]) -> None:
    code = (
        "import sys; from impact.api import load; from impact.records.demonstration import DEMO; "
        f"{'from impact.report.context import compose; from impact.report.request import Request; ' if needed else ''}{work}; "
        f"print(*sorted({{name.split('.')[0] for name in sys.modules}} & {NEEDLESS - needed!r}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


@pytest.mark.parametrize("dimension", sorted(CANONICAL))
def test_parse_quantity_has_a_lower_bound_beside_zero_as_well_as_an_upper(dimension: str) -> None:
    unit, least = CANONICAL[dimension], LEAST[dimension]
    assert parse_quantity(f"0 {unit}", dimension) == 0.0
    assert parse_quantity(f"{least!r} {unit}", dimension) == least
    for text in (f"{least / 2!r} {unit}", f"1e-308 {unit}", f"1e-400 {unit}"):
        with pytest.raises(UnitError) as caught:
            parse_quantity(text, dimension)
        assert caught.value.code == "too-small"
        assert f"{least:g}" in caught.value.accepted or f"{SMALLEST:g}" in caught.value.accepted


@pytest.mark.parametrize("read", [
    lambda text: parse_share(text), lambda text: parse_money(text, "USD"), lambda text: parse_rate(f"{text} kWh/kg", "energy"),
    lambda text: parse_price(f"{text} per kg", "USD"), lambda text: parse_emission(f"{text} kgCO2e/kg"),
])  # fmt: skip
def test_parse_amounts_of_other_kinds_have_a_lower_bound_beside_zero(read: Callable[[str], float]) -> None:
    assert read("0") == 0.0
    with pytest.raises(UnitError) as caught:
        read("1e-300")
    assert caught.value.code == "too-small"


def test_known_ratios_are_those_of_the_registry_to_the_last_bit() -> None:
    assert FILE.read_text(encoding="utf-8") == made(), "write it anew: python -m tests.ratios"
