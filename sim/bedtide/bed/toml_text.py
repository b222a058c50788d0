"""A bed description as TOML text that reads back to the same keys and values."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(mapping: Mapping[str, Any]) -> str:
    """TOML text of a mapping of tables.

    Parameters
    ----------
    mapping : mapping
        As ``tomllib`` returns it.

    Returns
    -------
    str
        Text that ``tomllib`` reads back to an equal mapping.
    """
    return "\n".join(_lines(mapping, ())).strip() + "\n"


def value_text(value: Any) -> str:
    """One value as TOML writes it.

    Parameters
    ----------
    value : object
        Text, number, truth value, date, list or table.

    Returns
    -------
    str
        Its text on one line.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat()
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(name)} = {value_text(item)}" for name, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(value_text(item) for item in value) + "]"
    return repr(value)


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    """Lines of one table: its own values first, then the tables within it."""
    lines = [
        f"{_key(name)} = {value_text(value)}"
        for name, value in table.items()
        if not _is_section(value)
    ]
    for name, value in table.items():
        if not _is_section(value):
            continue
        inner = (*path, name)
        title = ".".join(_key(part) for part in inner)
        for item, line in (
            [(value, f"[{title}]")]
            if isinstance(value, Mapping)
            else [(item, f"[[{title}]]") for item in value]
        ):
            lines += ["", line, *_lines(item, inner)]
    return lines


def _is_section(value: Any) -> bool:
    if isinstance(value, Mapping):
        return True
    return isinstance(value, list) and bool(value) and all(isinstance(v, Mapping) for v in value)


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else value_text(name)
