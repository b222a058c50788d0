"""JSON as weather services give it, made to a table with the same names."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from bedtide.errors import FieldError, FileError
from bedtide.weather.text import Text


def is_json(text: Text) -> bool:
    """Whether a text begins as JSON does."""
    first = next((line.lstrip() for line in text.lines if line.strip()), "")
    return first.startswith(("{", "[{", "[ {")) or first.strip() == "["


def json_table(text: Text) -> Text:
    """Lines of a table: what is said of the place, names, and one row a day or hour."""
    try:
        data = json.loads("\n".join(text.lines))
    except (json.JSONDecodeError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        raise FileError(
            f"{text.name}, line {line}", "it is not whole JSON", hint="It may have been cut short"
        ) from None
    head: list[str] = []
    if isinstance(data, list):
        rows = [row for row in data if isinstance(row, dict)]
        names = list(dict.fromkeys(name for row in rows for name in row))
        columns = [[row.get(name) for row in rows] for name in names]
    else:
        try:
            names, columns = _columns(data, head, text.name)
        except (AttributeError, TypeError, ValueError):
            raise _unknown(text.name) from None
    if not names or not columns[0]:
        raise FieldError(text.name, "there are no days or hours in it", expected="a list of rows")
    lines = [*head, "\t".join(map(str, names))]
    for cells in zip(*columns, strict=True):
        lines.append("\t".join("" if cell is None else str(cell) for cell in cells))
    notes = [*text.notes, f"The lines of {text.name} are counted as rows of its table."]
    return Text(text.name, lines, notes)


def _columns(data: Mapping[str, Any], head: list[str], name: str) -> tuple[list[str], list[Any]]:
    """Names and columns of the two shapes that services use; what they say of the place."""
    for key in ("latitude", "longitude", "elevation"):
        if isinstance(data.get(key), (int, float)):
            head.append(f"# {key}: {data[key]}")
    if isinstance(data.get("utc_offset_seconds"), (int, float)):
        head += ["latitude,longitude,utc_offset_seconds", f"-,-,{data['utc_offset_seconds']}"]
    for rows in ("daily", "hourly"):
        table = data.get(rows)
        if isinstance(table, dict) and "time" in table:
            units = data.get(f"{rows}_units", {})
            names = [f"{n} ({units[n]})" if units.get(n) and n != "time" else n for n in table]
            columns = [_listed(values) for values in table.values()]
            return names, _same_length(columns, name)
    features = data.get("features") or [data]
    feature = features[0] if isinstance(features, list) and features else {}
    table = feature.get("properties", {}).get("parameter") if isinstance(feature, dict) else None
    if not isinstance(table, dict) or not table:
        raise _unknown(name)
    place = feature.get("geometry", {}).get("coordinates", [])
    for key, value in zip(("longitude", "latitude", "elevation"), place, strict=False):
        head.append(f"# {key}: {value}")
    header = data.get("header", {})
    missing = header.get("fill_value", header.get("fillValue"))
    days = list(dict.fromkeys(day for values in table.values() for day in values))
    columns = [days]
    for values in table.values():
        column = [values.get(day) for day in days]
        none = None if missing is None else float(missing)
        columns.append([None if none is not None and cell == none else cell for cell in column])
    return ["YYYYMMDD", *table], columns


def _unknown(name: str) -> FieldError:
    return FieldError(
        name,
        "it is JSON of an unknown kind",
        expected="daily or hourly lists beside time, days under parameter, or a list of rows",
    )


def _listed(values: Any) -> list[Any]:
    return list(values.values()) if isinstance(values, dict) else list(values)


def _same_length(columns: Sequence[list[Any]], name: str) -> list[Any]:
    if len({len(column) for column in columns}) > 1:
        raise FieldError(name, "its columns have different lengths", hint="It may be cut short")
    return list(columns)
