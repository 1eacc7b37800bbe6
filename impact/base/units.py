"""The one unit registry, and the amounts that people write: quantities, shares, rates and prices."""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

from impact.base.problems import choices
from impact.base.spellings import CANONICAL, is_unit, unit_name
from impact.base.spellings import UnitError as UnitError

if TYPE_CHECKING:
    import pint

NONE = "1"
"""The unit of a share, a count, a plain number."""

LARGEST = 1e12
"""Most that one cell may hold, in any canonical unit; beyond it a slip of the pen is certain."""

SMALLEST = 1e-12
"""Least that one cell may hold beside 0, as written and in any canonical unit."""

LEAST: Mapping[str, float] = {
    "mass": 1e-9, "energy": 1e-9, "volume": 1e-9, "length": 1e-9, "time": 1e-9, "power": 1e-6, "life": 1e-6, "force": 1e-6,
    "span": 1e-6,
}  # fmt: skip
"""Least amount of a dimension that is meant, beside 0 [its canonical unit]: a microgram, half a minute of life. Our choice."""

_NUMBER = re.compile(r"([+\-−]?)((?:[0-9]+[.,]?)+|[.,][0-9]+)((?:[eE][+-]?[0-9]+)?)")
NOT_FINITE = re.compile(r"[+\-−]?(?:nan|inf(?:inity)?|∞)", re.IGNORECASE)
_BLANK_HINT = "a number, or a blank cell where nothing was recorded"


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the one unit registry, which knows the units of `units.txt` and no others."""
    missing = [name for name in ("dask", "uncertainties") if name not in sys.modules]
    sys.modules.update(dict.fromkeys(missing))  # type: ignore[arg-type]  # pint loads them where they are installed
    try:
        import pint
    finally:
        for name in missing:
            del sys.modules[name]
    units: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    units.load_definitions(Path(__file__).with_name("units.txt"))
    return units


@cache
def known_ratios() -> Mapping[tuple[str, str], float]:
    """Return what the registry finds for the units that people spell and the shipped factors have: it takes long to load.

    ``ratios.csv`` beside this module is written by ``python -m tests.ratios``.
    """
    with Path(__file__).with_name("ratios.csv").open(encoding="utf-8", newline="") as stream:
        return {(unit, other): float(ratio) for unit, other, ratio in list(csv.reader(stream))[1:]}


@cache
def _ratio(unit: str, other: str) -> float | None:
    """Return what one `unit` is in the other; None where they differ in dimension."""
    found = known_ratios().get((unit, other))
    return ratio_of(unit, other) if found is None else found


def ratio_of(unit: str, other: str) -> float | None:
    """Return the same as the registry finds it."""
    size, dimension = cast(tuple[float, Any], registry().get_root_units(unit))
    other_size, other_dimension = cast(tuple[float, Any], registry().get_root_units(other))
    return size / other_size if dimension == other_dimension else None


@cache
def product_unit(first: str, second: str, *, sign: int = 1) -> str:
    """Return the unit of a product, or with `sign` -1 that of a ratio; equal names cancel, nothing is converted.

    Parameters
    ----------
    first, second : str
        Units such as ``kgCO2e/kg/km``; ``1`` is none.
    sign : int, default 1
        1 to multiply, -1 to divide.
    """
    units = registry()
    product = units.parse_units(first) * units.parse_units(second) ** sign
    return f"{product:~C}".replace("**", "^").replace("*", " ") or NONE


# Names that a unit in a factor table may be made of; the registry never sees anything else.
_TABLE_UNITS = frozenset((
    "kgCO2e", "gCO2e", "tCO2e", "MtCO2e", "lbCO2e", "kg", "g", "mg", "t", "tonne", "metric_ton", "lb",
    "pound", "oz", "ounce", "short_ton", "long_ton", "kWh", "MWh", "GWh", "Wh", "MJ", "GJ", "kJ", "J", "BTU",
    "Btu", "m3", "L", "l", "liter", "litre", "mL", "ml", "gallon", "imperial_gallon", "km", "m", "cm", "mm",
    "mile", "mi", "ft", "year", "month", "week", "day", "h", "hour", "min", "minute", "s", "second", "W",
    "kW", "Pa", "kPa", "MPa", "GPa", "percent", "ppm", "mol", "dimensionless",
))  # fmt: skip
_TABLE_NAME = r"[A-Za-z_]\w*(?:\s*(?:\*\*|\^)\s*-?[1-9])?"
_TABLE_EXPRESSION = re.compile(rf"(?:1|{_TABLE_NAME})(?:\s*[*/]\s*{_TABLE_NAME})*", re.ASCII)


@cache
def _pair_factor(unit: str, canonical_unit: str) -> float:
    for text in (unit, canonical_unit):
        if not _TABLE_EXPRESSION.fullmatch(text):
            reason = f'"{text}" is no product of units'
            accepted = "units joined by * and /, as in kgCO2e/kg/km"
            raise UnitError(reason, read=unit, accepted=accepted, code="unknown-unit")
        for name in re.findall(r"[A-Za-z_]\w*", text):
            if name not in _TABLE_UNITS:
                accepted = choices(name, _TABLE_UNITS)
                raise UnitError(f'"{name}" is not a known unit', read=unit, accepted=accepted, code="unknown-unit")
    known = _ratio(unit, canonical_unit)
    if known is None:
        reason = f'"{unit}" cannot be turned into {canonical_unit}'
        accepted = f"a unit of the same dimension as {canonical_unit}"
        raise UnitError(reason, read=unit, accepted=accepted, code="wrong-dimension")
    return known


def to_canonical(value: float, unit: str, canonical_unit: str) -> float:
    """Return a factor's value in the canonical unit of its key.

    Parameters
    ----------
    value : float
        Value in `unit`.
    unit, canonical_unit : str
        Units as a factor table writes them (``lbCO2e/MWh``, ``kgCO2e/kg/km``, ``1``).

    Raises
    ------
    UnitError
        A unit is unknown, or the two differ in dimension.
    """
    return value * _pair_factor(unit.strip(), canonical_unit)


@cache
def unit_factor(text: str, dimension: str) -> float:
    """Return what one `text` (as people spell a unit) is in the canonical unit of `dimension`.

    Raises
    ------
    UnitError
        The spelling is unknown, ambiguous or of another dimension.
    """
    found = _ratio(unit_name(text, dimension), CANONICAL[dimension])
    assert found is not None, f"{text} is no unit of {dimension}"
    return found


def split_header(header: str) -> tuple[str, str | None]:
    """Return the name and the unit of a column's header: ``corrugated [g]`` and ``corrugated (g)`` have the unit ``g``."""
    match = re.fullmatch(r"(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))", header.strip())
    if match is None or (match[2] is None and not is_unit(match[3])):
        return header.strip(), None
    return match[1], (match[3] if match[2] is None else match[2]).strip()


def refuse(code: str, reason: str, read: str, accepted: str) -> NoReturn:
    """Raise a `UnitError`."""
    raise UnitError(reason, read=read, accepted=accepted, code=code)


def _plain(digits: str, text: str) -> str:
    """Return digits without separators but a decimal point, or refuse them."""
    if "," not in digits and digits.count(".") <= 1:
        return digits
    if "," in digits and "." not in digits and digits.count(",") == 1:
        as_decimal = digits.replace(",", ".")
        if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
            joined = digits.replace(",", "")
            readings = f"{joined} or {as_decimal}"
            refuse("ambiguous-number", f"this may be {readings}", text, f"{readings}, as meant")
        refuse("decimal-comma", f"decimal comma; write {as_decimal}", text, as_decimal)
    grouped = re.fullmatch(r"([0-9]{1,3}(?:([.,])[0-9]{3})(?:\2[0-9]{3})*)(?:[.,]([0-9]*))?", digits)
    if grouped is None:
        refuse("bad-number", "this is no number", text, _BLANK_HINT)
    joined = re.sub("[.,]", "", grouped[1]) + ("." + grouped[3] if grouped[3] else "")
    refuse("thousands-separator", "digits are grouped by a separator", text, f"{joined}, without separators")


def parse_number(text: str | float) -> tuple[float, str]:
    """Return the number at the start of a text and what follows it.

    Parameters
    ----------
    text : str or float
        The text as written; a number passes through.

    Raises
    ------
    UnitError
        There is no number, it is negative, not finite, or can be read in two ways.
    """
    if isinstance(text, bool):
        refuse("bad-number", "this is no number", str(text).lower(), _BLANK_HINT)
    if not isinstance(text, str):
        text = repr(text)
    written = text.strip()
    if NOT_FINITE.fullmatch(written):
        refuse("not-finite", "this is no finite number", text, _BLANK_HINT)
    match = _NUMBER.match(written)
    rest = written[match.end() :].strip() if match else ""
    if match is None or rest[:1].isdigit():
        refuse("bad-number", "this is no number", text, _BLANK_HINT)
    value = float(_plain(match[2], text) + match[3])
    if match[1] in ("-", "−") and value != 0.0:
        refuse("negative-number", "an amount cannot be negative", text, "0 or more")
    if not value <= LARGEST:
        refuse("too-large", "the number is too large to be meant", text, f"up to {LARGEST:g}")
    if value < SMALLEST and re.search("[1-9]", match[2]):
        refuse("too-small", "the number is too small to be meant", text, f"0, or {SMALLEST:g} and more")
    return value, rest


def within(value: float, text: str | float, dimension: str = "") -> float:
    """Return an amount in its canonical unit unless it is too large or too small to be meant."""
    if not value <= LARGEST:
        refuse("too-large", "the amount is too large to be meant", str(text), f"up to {LARGEST:g}")
    least = LEAST.get(dimension, SMALLEST)
    if 0.0 < value < least:
        accepted = f"0, or {least:g} {CANONICAL.get(dimension, '')}".rstrip() + " and more"
        refuse("too-small", "the amount is too small to be meant", str(text), accepted)
    return value


def parse_quantity(text: str | float, dimension: str, default_unit: str | None = None) -> float:
    """Return a quantity in the canonical unit of its dimension.

    Parameters
    ----------
    text : str or float
        A number with or without a unit (``2.5 lb``).
    dimension : str
        ``mass`` [kg], ``energy`` [kWh], ``volume`` [L], ``length`` [km], ``time`` [h], ``power`` [W], ``life`` [year],
        ``force`` [N], ``span`` [mm].
    default_unit : str, optional
        Unit of a bare number; by default the canonical unit.

    Raises
    ------
    UnitError
        Not a quantity of this dimension, negative, not finite, or ambiguous.
    """
    value, unit = parse_number(text)
    try:
        return within(value * unit_factor(unit or default_unit or CANONICAL[dimension], dimension), text, dimension)
    except UnitError as error:
        raise UnitError(error.reason, read=str(text), accepted=error.accepted, code=error.code) from None


ASKED: Mapping[str, tuple[str, ...]] = {
    "mass": ("g", "kg"), "energy": ("kWh", "Wh"), "volume": ("mL", "L"), "length": ("km", "mi"), "time": ("min", "h"),
    "power": ("W", "kW"), "life": ("years", "months"), "force": ("N", "kgf"), "span": ("mm", "cm"),
}  # fmt: skip
"""Units of a dimension that are likely behind a number without one."""

BARE = re.compile(r"[+\-−]?[\d.,'\s]*\d[\d.,'\s]*(?:[eE][+-]?\d+)?")
"""A number without a unit."""


def unitless(text: str | float, dimension: str) -> UnitError:
    """Return what is wrong with a bare number where an amount carries its unit."""
    number = f"{text:g}" if isinstance(text, int | float) else text.strip()
    accepted = " or ".join(f'"{number} {unit}"' for unit in ASKED[dimension])
    return UnitError(f"a number without its unit ({dimension})", read=str(text), accepted=accepted, code="missing-unit")


def parse_stated(text: str | float, dimension: str) -> float:
    """Return a quantity as `parse_quantity` does; a bare number other than 0 is refused: its unit would be guessed."""
    found = parse_quantity(text, dimension)
    if found and not parse_number(text)[1]:
        raise unitless(text, dimension)
    return found


def parse_share(text: str | float, *, percent: bool = False) -> float:
    """Return a share as a fraction of 1, from ``8 %`` or ``0.08``.

    Parameters
    ----------
    text : str or float
        The share as written.
    percent : bool
        True when a bare number is per cent, as under a header with ``[%]``.

    Raises
    ------
    UnitError
        Not a share, or outside 0 to 1; a bare number above 1 is never guessed at.
    """
    value, unit = parse_number(text)
    accepted = "0 to 1, or 0 % to 100 %"
    if unit.casefold() not in ("", "%", "percent", "per cent"):
        refuse("unknown-unit", f'"{unit}" is no unit of a share', str(text), accepted)
    if unit or percent:
        if value > 100.0:
            refuse("bad-share", "a share cannot exceed 100 %", str(text), accepted)
        return value / 100.0
    if value > 1.0:
        meant = f'; write "{value:g} %" or {value / 100.0:g}' if value <= 100.0 else ""
        refuse("bad-share", "a bare number above 1 is no share", str(text), accepted + meant)
    return value


def _split_rate(text: str | float) -> tuple[str | float, str | None]:
    if not isinstance(text, str):
        return text, None
    parts = re.split(r"\s*/\s*|\s+per\s+", text.strip(), maxsplit=1)
    return (parts[0], parts[1]) if len(parts) == 2 else (text, None)


def parse_rate(text: str | float, dimension: str, per: str = "mass") -> float:
    """Return an amount per amount in canonical units, from ``0.35 kWh per kg`` or ``1.2 MJ/kg`` [kWh/kg].

    Raises
    ------
    UnitError
        Not such a rate; a bare number other than 0 is none.
    """
    amount, unit = _split_rate(text)
    found = within(parse_quantity(amount, dimension) / (1.0 if unit is None else unit_factor(unit, per)), text)
    if found and (unit is None or not parse_number(amount)[1]):
        number, kind = parse_number(amount)[0], parse_number(amount)[1] or CANONICAL[dimension]
        refuse(
            "missing-unit",
            "an amount without its units",
            str(text),
            f'"{number:g} {kind} per {unit or CANONICAL[per]}"',
        )
    return found


def parse_emission(text: str | float) -> float:
    """Return an emission per mass, from ``1.2 kgCO2e/kg`` or ``350 g CO2e per kg``. [kgCO2e/kg]

    Raises
    ------
    UnitError
        Not an emission per mass, such as a bare number.
    """
    value, unit = parse_number(text)
    if value and not unit:
        refuse("missing-unit", "a number without its unit", str(text), f'"{value:g} kgCO2e/kg"')
    written = re.sub(r"\s+per\s+", "/", unit).replace(" ", "").replace("CO₂", "CO2").replace("CO2eq", "CO2e")
    try:
        return within(value * to_canonical(1.0, written or "kgCO2e/kg", "kgCO2e/kg"), text)
    except UnitError as error:
        raise UnitError(error.reason, read=str(text), accepted="such as 1.2 kgCO2e/kg", code=error.code) from None


def parse_money(text: str | float, currency: str) -> float:
    """Return an amount of money, bare or followed by the workshop's own currency code. [currency]

    Raises
    ------
    UnitError
        Not an amount, or in another currency.
    """
    value, unit = parse_number(text)
    if unit and unit.casefold() != currency.casefold():
        accepted = f"a bare number, in {currency}" if currency else "a bare number"
        refuse("other-currency", f'"{unit}" is not the currency of the workshop', str(text), accepted)
    return value


def parse_price(text: str | float, currency: str) -> float:
    """Return a price per kg, from ``3.20 per kg`` or ``1.50 USD / lb``. [currency/kg]

    Raises
    ------
    UnitError
        Not a price per mass, or in another currency.
    """
    amount, unit = _split_rate(text)
    price = within(parse_money(amount, currency) / (1.0 if unit is None else unit_factor(unit, "mass")), text)
    if price and unit is None:
        refuse("missing-unit", "a price without its unit", str(text), f'"{text} per kg" or "{text} per lb"')
    return price
