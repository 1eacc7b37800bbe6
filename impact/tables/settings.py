"""How a table is to be read, where the file itself leaves it open."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ReadingSettings:
    """What a workshop says of its records.

    Attributes
    ----------
    decimal : {".", ","} or None
        Decimal mark of numbers kept as text; None when not said.
    dates : {"day first", "month first"} or None
        Order of dates such as 03/04/2026; None when not said.
    encoding : str or None
        Encoding of CSV files; None when not said.
    sheet, parts_sheet : tuple of str
        Sheets of ``batches.xlsx`` and ``parts.xlsx`` that hold the records; empty when not said.
    """

    decimal: str | None = None
    dates: str | None = None
    encoding: str | None = None
    sheet: tuple[str, ...] = ()
    parts_sheet: tuple[str, ...] = ()
