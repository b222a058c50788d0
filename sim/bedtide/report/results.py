"""Figures of an answer: what a summary tells of a Dataset, and days in the reader's units."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from bedtide.tables import read_table
from bedtide.units import INCH, US_GALLON, System

if TYPE_CHECKING:
    import xarray as xr

_SIZES: Final = {"percent": 100.0, "litres": 1e3, "cm": 100.0, "mm": 1e3}  # in one SI unit
Kind = TypeVar("Kind")


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
    """A reading times the factor, a date as text; None where it has no value, or no end."""
    found = np.asarray(value)
    if found.dtype.kind == "M":
        return None if np.isnat(found) else str(found.astype("datetime64[D]"))
    if found.dtype.kind == "f":
        return float(found) * factor if np.isfinite(found) else None
    return found.item() if factor == 1.0 else found.item() * factor


def figure(of: str, factor: float | None = None, *, whole: bool = False) -> Any:
    """A field of a summary that tells a variable in the unit of its name, or times a factor.

    What is `whole` loses its point where there is nothing behind it.
    """
    return dataclasses.field(metadata={"of": of, "factor": factor, "whole": whole})


def figures_of(kind: type[Kind], found: Any, **others: Any) -> Kind:
    """A summary from the variables that its fields tell, and `others` that tell none.

    A depth that is told in litres is that of the whole bed.
    """
    for field in dataclasses.fields(kind):  # type: ignore[arg-type]
        if field.metadata:
            of, size = found[field.metadata["of"]], field.metadata["factor"]
            if size is None:
                size = size_in(field.name, of)
                if "litres" in field.name and _unit(of) == "m":
                    size = float(found["plan_area"]) * size
            told = number(of, size)
            is_whole = field.metadata["whole"] and told is not None and told == int(told)
            others[field.name] = int(told) if is_whole else told
    return kind(**others)


def rows_of(
    kind: type[Kind], found: xr.Dataset, dim: str, **others: Sequence[Any]
) -> tuple[Kind, ...]:
    """A summary for each place along a dimension; `others` have a value for each place."""
    return tuple(
        figures_of(kind, found.isel({dim: at}), **{name: each[at] for name, each in others.items()})
        for at in range(found.sizes[dim])
    )


def size_in(key: str, value: Any) -> float:
    """How many of the unit in a key make one of the variable's SI unit."""
    sizes = (size for word, size in _SIZES.items() if word in key)
    return 1.0 if _unit(value) == "d" else next(sizes, 1.0)


def _unit(value: Any) -> str:
    return str(getattr(value, "attrs", {}).get("units", ""))


# --- days in the reader's units ---------------------------------------------------------------

UNITS: Final[dict[str, dict[System, tuple[str, float, str]]]] = {
    "depth": {"metric": ("_mm", 1e-3, "mm"), "us": ("_inch", INCH, "inches")},
    "height": {"metric": ("_cm", 1e-2, "cm"), "us": ("_inch", INCH, "inches")},
    "volume": {"metric": ("_L", 1e-3, "L"), "us": ("_US_gal", US_GALLON, "US gal")},
    "share": {"metric": ("_percent", 1e-2, "%"), "us": ("_percent", 1e-2, "%")},
    "plain": {"metric": ("", 1.0, ""), "us": ("", 1.0, "")},
}
"""Ending of a column's name, size of the unit in SI and its word, of each kind and system."""
COLUMNS: Final = {n: (row["column"], row["kind"]) for n, row in read_table("columns.csv").items()}
"""Column of a table of days that tells each variable, but for its ending, and the kind of it."""
_CLASSES = (0.1, 0.2, 0.3, 0.4)  # air shares that part the colours of a page [1]


def column_of(name: str, units: System) -> str:
    """Name of the column of a variable, which ends in the reader's unit."""
    column, kind = COLUMNS[name]
    return column + UNITS[kind][units][0]


def unit_of(name: str, units: System) -> str:
    """The reader's word for the unit of a variable."""
    return UNITS[COLUMNS[name][1]][units][2]


def amounts(found: xr.Dataset, name: str, units: System) -> xr.DataArray:
    """A variable in the reader's unit, of the whole bed where that is a volume."""
    kind = COLUMNS[name][1]
    size = UNITS[kind][units][1]
    if kind == "plain":
        return found[name]
    return found[name] / (size / found["plan_area"] if kind == "volume" else size)


def series(values: Any, where: Any = True) -> list[float | None]:
    """Days as a page draws them: to hundredths, None where there is nothing to draw."""
    known = np.broadcast_to(where, np.shape(values))
    figures = np.round(np.asarray(values), 2).tolist()
    return [v if there else None for v, there in zip(figures, known, strict=True)]


def air_classes(air: NDArray[np.float64]) -> list[list[int]]:
    """Class of the air in each slice of mix on each day."""
    classes: list[list[int]] = np.digitize(air, _CLASSES).tolist()
    return classes
