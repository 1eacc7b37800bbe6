"""The country that the settings of the system name, so that nobody is asked for what is already said."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

VARIABLES = ("LC_ALL", "LANG")
"""Variables that may name a territory, the strongest first."""


@dataclass(frozen=True, slots=True)
class Territory:
    """A country and where it was found.

    Attributes
    ----------
    country : str
        ISO 3166-1 alpha-3.
    found_in : str
        The setting that names it, such as ``LANG=de_DE.UTF-8``.
    """

    country: str
    found_in: str


def territory(environment: Mapping[str, str], codes: Mapping[str, str]) -> Territory | None:
    """Return the country of the system's language settings; None where they name none that is known.

    Parameters
    ----------
    environment : mapping of str to str
        Variables of the system.
    codes : mapping of str to str
        Countries by their two letters (ISO 3166-1 alpha-2).
    """
    name = next((name for name in VARIABLES if environment.get(name)), None)
    if name is None:
        return None
    match = re.fullmatch(r"[a-z]{2,3}_([A-Z]{2})(?:[.@][A-Za-z0-9.@_-]*)?", environment[name])
    country = codes.get(match[1]) if match else None
    return None if country is None else Territory(country, f"{name}={environment[name]}")
