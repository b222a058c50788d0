"""Figures of an answer: a summary as plain values, and what every summary has of a Dataset."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import xarray as xr

Writer = Callable[[Path], None]


def plain(value: Any) -> Any:
    """Figures of a summary under the names of its fields, all the way down.

    A field that Python does not let be named so ends in an underscore, which goes; one whose
    default is None is left out where it is None, for it was not asked for.
    """
    if dataclasses.is_dataclass(value):
        found = {field: getattr(value, field.name) for field in dataclasses.fields(value)}
        return {
            field.name.rstrip("_"): plain(each)
            for field, each in found.items()
            if each is not None or field.default is dataclasses.MISSING
        }
    if isinstance(value, Mapping):
        return {key: plain(each) for key, each in value.items()}
    return [plain(each) for each in value] if isinstance(value, (list, tuple)) else value


def rests_of(found: xr.Dataset) -> dict[str, Any]:
    """What every answer rests on, from the attributes of its Dataset, under the keys of figures."""
    attrs = found.attrs
    return {
        "bedtide_version": attrs["bedtide_version"],
        "weather_place": attrs["weather_place"],
        "weather_source": attrs["weather_source"],
        "weather_doubts": tuple(attrs.get("weather_doubts", ())),
        "balance_error_mm": float(attrs["balance_error"]) * 1e3,
        "assumptions": tuple(attrs["assumptions"]),
    }


def number(value: Any, factor: float = 1.0) -> Any:
    """Plain number of a reading times the factor; None where missing, whole where a count."""
    found = value.item()
    if isinstance(found, float):
        return None if found != found else found * factor
    return int(found) if factor == 1.0 else found * factor
