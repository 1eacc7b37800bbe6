"""Life-cycle and landfill-diversion figures for workshops that mould waste paper into parts."""

from __future__ import annotations

__version__ = "0.1.0"
