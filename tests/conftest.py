"""What holds for every test: drawn examples have no time limit, for the machine may be busy."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", settings(), deadline=None)
settings.load_profile("untimed")
