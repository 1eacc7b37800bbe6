"""What holds for every test: no time limits, for the machine may be busy, and one folder for what is made once."""

from __future__ import annotations

import gc
import os
import tempfile
from fnmatch import fnmatchcase
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.shared import HOME, make_ahead

# As the program itself has it, see `impact.cli`: threads that wait for one another would take the time of other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Programs that the tests start would compile the package again, each time, where bytecode is not kept.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Searching for cycles among so many objects took a fifth of the time.
gc.set_threshold(300_000, 20, 20)

settings.register_profile("untimed", settings(), deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


MANY = 3_000
"""Tests of a run that asks for nearly every report."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--thorough", action="store_true", help="run the tests of tests/thorough.txt and tests/apart.txt too"
    )
    parser.addoption("--apart", action="store_true", help="run the tests of tests/apart.txt and no others")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what only `make thorough` runs, and what only `make test-apart` runs unless its module is named.

    A test that is named is run.
    """
    if config.getoption("--thorough") or any("::" in argument for argument in config.args):
        return
    partly = any(config.getoption(option) for option in ("ignore", "ignore_glob", "deselect"))
    left_out, apart = (listed(name, items, whole=len(items) > MANY and not partly) for name in ("thorough", "apart"))
    if config.getoption("--apart"):
        left_out |= {item.nodeid for item in items} - apart
    elif not any(argument.endswith(".py") for argument in config.args):
        left_out |= apart
    config.hook.pytest_deselected(items=[item for item in items if item.nodeid in left_out])
    items[:] = [item for item in items if item.nodeid not in left_out]


def listed(name: str, items: list[pytest.Item], *, whole: bool) -> set[str]:
    """Return the names of the tests that a list holds by their patterns; each names one, where the tests are all there are."""
    lines = Path(__file__).with_name(f"{name}.txt").read_text(encoding="utf-8").splitlines()
    found: set[str] = set()
    for pattern in (f"tests/{line}" for line in lines if line and not line.startswith("#")):
        named = {item.nodeid for item in items if fnmatchcase(item.nodeid, pattern)}
        if not named and whole:
            raise pytest.UsageError(f"tests/{name}.txt: no test is called {pattern}")
        found |= named
    return found


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave what the modules hold out of the search for cycles; where nearly all tests run, make what they share."""
    gc.freeze()
    if len(session.items) > MANY and hasattr(session.config, "workerinput"):
        from tests.reports import ahead

        make_ahead(ahead(thorough=session.config.getoption("--thorough")))


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder of `tests.shared` in the first process; those that it starts find its name where it left it."""
    if not hasattr(config, "workerinput"):
        home = tempfile.TemporaryDirectory(prefix="impact-tests-")
        os.environ[HOME] = home.name
        config.add_cleanup(home.cleanup)
