"""Page numbers of references in the layout library, known after one pass over the pages in place of two.

A reference prints the page of what its ``href`` names. The library forgets that name, finds the number only when it looks at
the reference a second time, and then lays its page out a third time. It does so once more for the number of all
pages, which no reference of ours prints.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from urllib.parse import unquote


@contextmanager
def references_found_at_once() -> Iterator[None]:
    """Have the layout library know what each reference waits for, and look at nothing else."""
    from weasyprint.css.targets import TargetCollector

    collect, note = TargetCollector.collect_missing_counters, TargetCollector.cache_target_page_counters

    def collected(
        self: Any,
        box: Any,
        token: str,
        again: Callable[..., None],
        missing: list[str],
        wanted: dict[str | None, list[str]],
    ) -> None:
        if wanted.keys() == {None}:
            missing, wanted = [], {unquote(box.element.get("href", "")).removeprefix("#"): wanted[None]}
        collect(self, box, token, again, missing, wanted)

    def noted(self: Any, anchor: str, counters: Mapping[str, Any], *pages: Any) -> None:
        note(self, anchor, {name: value for name, value in counters.items() if name != "pages"}, *pages)

    TargetCollector.collect_missing_counters, TargetCollector.cache_target_page_counters = collected, noted
    try:
        yield
    finally:
        TargetCollector.collect_missing_counters, TargetCollector.cache_target_page_counters = collect, note
