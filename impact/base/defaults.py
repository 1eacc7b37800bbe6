"""What an uncertainty run takes where nobody says otherwise; known here, so that the help names it and loads nothing."""

DEFAULT_SEED = 2026
DEFAULT_DRAWS = 10_000
FORECAST_DRAWS = 4_000
"""Draws of a forecast, which draws the batches as well."""
