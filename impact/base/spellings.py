"""How people spell units: our own list, with the canonical unit of each dimension and what is refused as ambiguous."""

from __future__ import annotations

import re
from functools import cache

from impact.base.problems import nearest

CANONICAL = {
    "mass": "kg", "energy": "kWh", "volume": "L", "length": "km", "time": "h", "power": "W", "life": "year", "force": "N",
    "span": "mm",
}  # fmt: skip

# dimension -> unit as pint names it -> spellings, the preferred one first.
_SPELLINGS: dict[str, dict[str, str]] = {
    "mass": {
        "kilogram": "kg, kgs, kilo, kilos, kilogram, kilograms, kilogramme, kilogrammes",
        "gram": "g, gs, gm, gms, gram, grams, gramme, grammes",
        "milligram": "mg, milligram, milligrams",
        "metric_ton": "t, tonne, tonnes, metric ton, metric tons, metric tonne, metric tonnes",
        "pound": "lb, lbs, pound, pounds",
        "ounce": "oz, ounce, ounces",
        "short_ton": "short ton, short tons, us ton, us tons",
        "long_ton": "long ton, long tons, imperial ton, imperial tons",
    },
    "energy": {
        "kilowatt_hour": "kWh, kwhs, kw h, kw-h, kw.h, kw·h, kilowatt hour, kilowatt hours, kilowatt-hours",
        "watt_hour": "Wh, w h, w-h, w.h, w·h, watt hour, watt hours, watt-hour, watt-hours",
        "megawatt_hour": "MWh, megawatt hour, megawatt hours",
        "megajoule": "MJ, megajoule, megajoules",
        "kilojoule": "kJ, kilojoule, kilojoules",
        "joule": "J, joule, joules",
        "gigajoule": "GJ, gigajoule, gigajoules",
        "british_thermal_unit": "BTU, btus",
    },
    "volume": {
        "liter": "L, litre, litres, liter, liters, ltr, ltrs, dm3, dm^3, dm³",
        "milliliter": "mL, millilitre, millilitres, milliliter, milliliters, cc, cm3, cm^3, cm³",
        "centiliter": "cL, centilitre, centilitres, centiliter, centiliters",
        "deciliter": "dL, decilitre, decilitres, deciliter, deciliters",
        "meter ** 3": "m3, m^3, m³, cubic metre, cubic metres, cubic meter, cubic meters",
        "gallon": "US gal, us gals, us gallon, us gallons",
        "imperial_gallon": "imp gal, imp gals, imperial gallon, imperial gallons, uk gallon, uk gallons",
        "quart": "US qt, us quart, us quarts",
        "cubic_inch": "in3, in^3, in³, cu in, cubic inch, cubic inches",
        "cubic_foot": "ft3, ft^3, ft³, cu ft, cubic foot, cubic feet",
    },
    "length": {
        "kilometer": "km, kms, kilometre, kilometres, kilometer, kilometers",
        "meter": "m, metre, metres, meter, meters",
        "mile": "mi, mile, miles",
        "foot": "ft, foot, feet",
        "yard": "yd, yds, yard, yards",
    },
    "time": {
        "hour": "h, hr, hrs, hour, hours",
        "minute": "min, mins, minute, minutes",
        "second": "s, sec, secs, second, seconds",
        "day": "day, days, d",
    },
    "power": {
        "watt": "W, watt, watts",
        "kilowatt": "kW, kilowatt, kilowatts",
    },
    "life": {
        "year": "year, years, yr, yrs, y",
        "month": "month, months, mo, mos, mth, mths",
        "week": "week, weeks, wk, wks",
        "day": "day, days, d",
    },
    "force": {
        "newton": "N, newton, newtons",
        "kilonewton": "kN, kilonewton, kilonewtons",
        "kilogram_force": "kgf, kilogram-force",
        "pound_force": "lbf, pound-force",
    },
    "span": {
        "millimeter": "mm, millimetre, millimetres, millimeter, millimeters",
        "centimeter": "cm, centimetre, centimetres, centimeter, centimeters",
        "inch": "in, inch, inches",
    },
}  # fmt: skip

_GALLON = ("a US or an imperial measure?", "L, US gal or imp gal")
# Refused wherever they are written, whatever the case of the letters.
_AMBIGUOUS = {
    **dict.fromkeys(("ton", "tons"), ("a tonne, a short ton or a long ton?", "t, short ton or long ton")),
    **dict.fromkeys(("gal", "gals", "gallon", "gallons", "pt", "pts", "pint", "pints", "cup", "cups"), _GALLON),
    **dict.fromkeys(("qt", "qts", "quart", "quarts", "fl oz", "fluid ounce", "fluid ounces"), _GALLON),
    **dict.fromkeys(("cal", "cals", "calorie", "calories"), ("a calorie or a kilocalorie?", "kJ or kWh")),
    "gr": ("grams or grains?", "g"),
    "hp": ("mechanical or metric horsepower?", "W or kW"),
}
# Refused in this spelling only: the case of a letter would change the size by a million or more.
_AMBIGUOUS_CASE = {
    "Mg": ("a milligram or a megagram (tonne)?", "mg or t"),
    "MG": ("a milligram or a megagram (tonne)?", "mg or t"),
    "mWh": ("a milliwatt-hour or a megawatt-hour?", "MWh, kWh or Wh"),
    "mwh": ("a milliwatt-hour or a megawatt-hour?", "MWh, kWh or Wh"),
    "mJ": ("a millijoule or a megajoule?", "MJ, kJ or J"),
    "ML": ("a millilitre or a megalitre?", "mL, L or m3"),
}
# Refused in one dimension.
_AMBIGUOUS_IN = {
    ("mass", "m"): ("it is a metre, not a mass: milligrams?", "mg, g or kg"),
    ("time", "m"): ("minutes or metres?", "min or h"),
    ("energy", "m"): ("minutes or metres?", "min or h, with a device or a power"),
    ("life", "m"): ("months or minutes?", "months or years"),
    ("length", "m."): ("miles or metres?", "km, m or mi"),
    ("volume", "oz"): _GALLON,
}


class UnitError(ValueError):
    """A text that is no amount in the wanted dimension.

    Attributes
    ----------
    reason : str
        What is wrong, without the place.
    read : str
        The text as it was read.
    accepted : str
        What would be accepted.
    code : str
        Stable name of the kind of problem (``unknown-unit``).
    """

    def __init__(self, reason: str, *, read: str, accepted: str, code: str) -> None:
        self.reason = reason
        self.read = read
        self.accepted = accepted
        self.code = code
        super().__init__(f'read "{read}": {reason}. Accepted: {accepted}.')


def fold(text: str) -> str:
    """Return a name as it is compared: lower case, with spaces, underscores and hyphens alike."""
    return re.sub(r"[\s_-]+", " ", text).strip().casefold()


def _fold_unit(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip().rstrip(".").rstrip().casefold()


@cache
def _lookup(dimension: str) -> dict[str, str]:
    units = _SPELLINGS[dimension]
    return {_fold_unit(word): unit for unit, words in units.items() for word in words.split(",")}


def accepted_units(dimension: str) -> str:
    """Return the preferred spelling of every unit of a dimension, as one line."""
    return ", ".join(words.split(",")[0] for words in _SPELLINGS[dimension].values())


@cache
def unit_name(text: str, dimension: str) -> str:
    """Return the registry's name of a unit as somebody spelt it.

    Parameters
    ----------
    text : str
        The unit as written (``kgs``, ``KWH``, ``lb.``).
    dimension : str
        One of the keys of `CANONICAL`.

    Raises
    ------
    UnitError
        The spelling is ambiguous, of another dimension, or not on the list.
    """
    written = text.strip()
    folded = _fold_unit(written)
    doubt = (
        _AMBIGUOUS_CASE.get(written)
        or _AMBIGUOUS_IN.get((dimension, written))
        or _AMBIGUOUS_IN.get((dimension, folded))
        or _AMBIGUOUS.get(folded)
    )
    if doubt:
        reason = f'the unit "{written}" is ambiguous ({doubt[0]})'
        raise UnitError(reason, read=text, accepted=doubt[1], code="ambiguous-unit")
    known = _lookup(dimension)
    if folded in known:
        return known[folded]
    others = [other for other in _SPELLINGS if folded in _lookup(other)]
    accepted = accepted_units(dimension)
    if others:
        reason = f'"{written}" is a unit of {others[0]}, not of {dimension}'
        raise UnitError(reason, read=text, accepted=accepted, code="wrong-dimension")
    near = nearest(folded, known)
    preferred = _SPELLINGS[dimension][known[near]].split(",")[0] if near else None
    hint = f' (did you mean "{preferred}"?)' if preferred else ""
    reason = f'"{written}" is not a known unit of {dimension}'
    raise UnitError(reason, read=text, accepted=accepted + hint, code="unknown-unit")
