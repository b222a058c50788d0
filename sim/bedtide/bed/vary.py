"""One key of a description set to another value, and which keys there are to set."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from bedtide.bed.sections import (
    FORMS,
    SECTIONS,
    TABLES,
    BenchTable,
    ChangeTable,
    PlantingTable,
    Table,
    keys_of,
)
from bedtide.errors import FieldError, nearest_names

# Keys that say the same thing in another way: setting one takes the others out.
_RIVALS = (("height", "centre"), ("count", "gap"), ("medium", "recipe", "bench"))


def varied_keys(mapping: Mapping[str, Any]) -> list[str]:
    """Every key of a description that can be set, given or left to its default.

    Parameters
    ----------
    mapping : mapping
        The description as read.

    Returns
    -------
    list of str
        Key paths such as ``box.depth`` and ``planting.0.area_share``.
    """
    keys = []
    for section in SECTIONS:
        for path, table in _tables(mapping, section):
            keys += [f"{path}.{name}" for name in keys_of(table) if name not in _TABLES_WITHIN]
            recipe = _at(mapping, f"{path}.recipe")
            if isinstance(recipe, Mapping):
                keys += [f"{path}.recipe.{name}" for name in recipe]
    return keys


def with_value(
    mapping: Mapping[str, Any], key: str, value: Any, *, where: str = "bed description"
) -> dict[str, Any]:
    """Copy of a description with one key set; nothing is checked but that the key exists.

    A key that says the same in another way is taken out: ``overflow.height`` for
    ``overflow.centre``, ``reservoir.count`` for ``reservoir.gap``, the medium, recipe and bench
    measurement of a mix for one another.

    Parameters
    ----------
    mapping : mapping
        The description as read; not changed.
    key : str
        Key path such as ``box.depth`` or ``planting.0.area_share``; items count from 0.
    value : str, float or other TOML value
        What to set, as it would stand in the file, such as ``"25 cm"``.
    where : str, default "bed description"
        Where the key was asked for, for the message.

    Returns
    -------
    dict
        The new description.

    Raises
    ------
    FieldError
        If there is no such key; the nearest are named.
    """
    known = varied_keys(mapping)
    names = {name.lower(): name for name in known}
    path = names.get(key.strip().lower())
    if path is None:
        close = nearest_names(key, known)
        raise FieldError(
            where,
            f'there is no key "{key}" in the description',
            expected="one of: " + ", ".join(known) if not close else "",
            hint=f"Closest: {', '.join(close)}" if close else "",
        )
    changed = copy.deepcopy(dict(mapping))
    inner: Any = changed
    parts = _split(path)
    for name in parts[:-1]:
        inner = inner[int(name)] if isinstance(inner, list) else inner.setdefault(name, {})
    last = parts[-1]
    for group in _RIVALS:
        if last in group:
            for rival in group:
                inner.pop(rival, None)
    inner[last] = copy.deepcopy(value)
    return changed


def _tables(mapping: Mapping[str, Any], section: str) -> list[tuple[str, type[Table]]]:
    """Tables of a section as they stand, each with its key path."""
    if section == "mix":
        found: list[tuple[str, type[Table]]] = []
        for mix in ("mix.wick", "mix.top"):
            found.append((mix, TABLES[mix]))
            if isinstance(_at(mapping, f"{mix}.bench"), Mapping):
                found.append((f"{mix}.bench", BenchTable))
        return found
    if section == "reservoir":
        form = str(_at(mapping, "reservoir.form")).strip().lower()
        return [("reservoir", FORMS[form])] if form in FORMS else []
    if section == "planting":
        return _items(mapping, "planting", PlantingTable)
    own = [(section, TABLES[section])]
    if section == "overflow":
        own += _items(mapping, "overflow.change", ChangeTable)
    return own


def _items(
    mapping: Mapping[str, Any], path: str, table: type[Table]
) -> list[tuple[str, type[Table]]]:
    """Each table of a list of tables, with its key path."""
    items = _at(mapping, path)
    return [(f"{path}.{at}", table) for at in range(len(items))] if isinstance(items, list) else []


_TABLES_WITHIN = ("recipe", "bench", "change")


def _split(path: str) -> list[str]:
    """Names of a key path; the name of a medium in a recipe may hold dots."""
    head, mark, medium = path.partition(".recipe.")
    return [*head.split("."), "recipe", medium] if mark else path.split(".")


def _at(mapping: Mapping[str, Any], path: str) -> Any:
    """Value at a key path, None where there is none."""
    found: Any = mapping
    for name in path.split("."):
        found = found.get(name) if isinstance(found, Mapping) else None
    return found
