"""Daily water balance of sub-irrigated raised beds.

>>> from bedtide import example_bed, read_weather, run_season, sample_weather
>>> season = run_season(example_bed(), read_weather(sample_weather("brasaluz")))
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

# Where each public name lives; loaded when first asked for, so that importing bedtide is quick.
_HOMES = {
    "away": "bedtide.many",
    "build": "bedtide.building",
    "compare": "bedtide.many",
    "dryness": "bedtide.readings",
    "example_bed": "bedtide.bed",
    "fetch_weather": "bedtide.weather",
    "read_bed": "bedtide.bed",
    "read_places": "bedtide.weather",
    "read_weather": "bedtide.weather",
    "reference_et": "bedtide.weather",
    "refills": "bedtide.readings",
    "run_many": "bedtide.balance",
    "run_season": "bedtide.balance",
    "sample_weather": "bedtide.tables",
    "water_account": "bedtide.readings",
    "wetness": "bedtide.readings",
}

__all__ = ["__version__", *sorted(_HOMES)]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'bedtide' has no attribute '{name}'")


def __dir__() -> list[str]:
    return __all__
