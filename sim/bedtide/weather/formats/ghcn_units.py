"""Units of an ordered file of the global daily set, which does not say them."""

from __future__ import annotations

from collections import Counter

import numpy as np

from bedtide.checks import choice
from bedtide.errors import FieldError
from bedtide.weather.formats.common import Sheet
from bedtide.weather.record import Options

__all__ = ["UNIT_CHOICES", "units_of"]

UNIT_CHOICES = ("tenths", "metric", "standard")


def units_of(sheet: Sheet, options: Options) -> str:
    """Tenths, metric or standard, from how the numbers are written; refused where uncertain."""
    if options.units_of_file is not None:
        return choice(options.units_of_file, UNIT_CHOICES, where="units_of_file")
    possible = set(UNIT_CHOICES)
    reasons = []
    for name, judge in (("PRCP", _by_rain), ("TMAX", _by_heat), ("TMIN", _by_heat)):
        texts = [t for t in sheet.column(name) if t and t not in ("-9999", "9999", "-9999.0")]
        texts = [t.replace(",", ".") for t in texts]
        found = judge(texts)
        if len(found) < 3:
            reasons.append(f"{name} suggests {' or '.join(sorted(found)) or 'none of them'}")
        possible &= found
    if len(possible) == 1:
        return possible.pop()
    raise FieldError(
        sheet.table.name,
        "the file does not say its units, and its numbers do not settle them"
        + (f" ({'; '.join(reasons)})" if reasons else ""),
        expected="units_of_file: tenths (0.1 mm, 0.1 C), metric (mm, C, m/s) or standard (in, F, "
        "mph)",
        hint='Say what was chosen when the file was ordered, such as  units_of_file = "standard"',
    )


def _by_rain(texts: list[str]) -> set[str]:
    """No decimal point: tenths of mm; two decimals: inches; one: mm. All zero says nothing."""
    if not any(character in "123456789" for text in texts for character in text):
        return set(UNIT_CHOICES)
    decimals = Counter(len(t.partition(".")[2]) for t in texts)
    if set(decimals) == {0}:
        return {"tenths"}
    return {"standard"} if max(decimals) >= 2 else {"metric"}


def _by_heat(texts: list[str]) -> set[str]:
    """Tenths run to hundreds; degrees F are whole and of tens; degrees C have one decimal."""
    try:
        values = np.asarray([float(t) for t in texts])
    except ValueError:
        return set(UNIT_CHOICES)
    if not len(values):
        return set(UNIT_CHOICES)
    if any("." in t for t in texts):
        return {"metric"} if np.abs(values).max() <= 60 else {"standard"}
    return {"tenths"} if values.max() > 135 or values.min() < -80 else {"tenths", "standard"}
