"""How a name that somebody typed stands in running text."""

from __future__ import annotations

import re
from collections.abc import Iterable

from impact.base.spellings import fold

_JOINED = re.compile(r"(?<=[^\W\d_])[-_]+(?=[^\W\d_])")


def shown(part: str, among: Iterable[str] = ()) -> str:
    """Return the name of a part as a reader would write it: "tool-tray" as "tool tray".

    Parameters
    ----------
    part : str
        As the records have it.
    among : iterable of str
        All parts of the page; where two would look alike, each stays as it was typed.
    """
    text = _JOINED.sub(" ", part)
    alike = {fold(_JOINED.sub(" ", one)) for one in among if one != part}
    return part if fold(text) in alike else text
