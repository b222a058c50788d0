"""TOML that people write: read whole, with what is wrong in it told by its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from bedtide.errors import FieldError, FileError, nearest_names, shown

_DEEPEST: Final = 6  # brackets inside one another; no description needs more
_MOST: Final = 10**15  # whole numbers up to it
_AT_LINE: Final = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def text_of(path: Path, what: str, *, hint: str = "") -> str:
    """Text of a file that is `what`, UTF-8 with or without a byte-order mark.

    `hint` says how to come by one, where no file with a similar name lies beside it.
    """
    try:
        if path.is_dir():
            raise FileError(str(path), "a folder", f"{what}, a .toml file")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise FileError(str(path), "there is no such file", hint=_like(path) or hint) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        place, hint = f"{path.name}, line {line}", "Save it again as UTF-8"
        raise FileError(place, "not UTF-8 text", "a plain text file", hint=hint) from None
    except OSError as error:
        reason = (error.strerror or "it can't be read").lower()
        raise FileError(str(path), f"can't be read: {reason}") from None


def tables_of(text: str, where: str, lines: str) -> dict[str, Any]:
    """Keys and values of the text [1]; what is wrong in it by its line, with `lines` to copy."""
    rows = text.splitlines()
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        found = _AT_LINE.search(str(error))
        line = int(found[1]) if found and found[1] else len(rows)
        problem = _AT_LINE.sub("", str(error))
        if not isinstance(error, tomllib.TOMLDecodeError):
            line = 1 + max(range(len(rows)), key=lambda at: len(rows[at]))
            problem = "a number too long, or brackets too deep"
        reads = shown(rows[line - 1]) if text.strip() else ""
        raise FileError(
            f"{where}, line {line}",
            f"not TOML: {problem[:1].lower()}{problem[1:]}",
            f"lines such as  {lines}",
            hint=f"The line reads  {reads}" if reads else "",
        ) from None
    check_bounds(tables, where)
    return tables


def check_bounds(value: Any, where: str, path: tuple[str, ...] = ()) -> None:
    """Refuse what no file needs and no code expects: deep brackets, endless numbers."""
    place = f"{where}, {shown('.'.join(path))}"
    if isinstance(value, int) and abs(value) > _MOST:
        most = f"at most {len(str(_MOST)) - 1} digits"
        raise FieldError(place, "a number of too many digits", most)
    if len(path) > _DEEPEST:
        raise FieldError(place, "too many brackets inside one another", f"at most {_DEEPEST}")
    if isinstance(value, (list, tuple)):
        value = dict(enumerate(value))
    for name, each in value.items() if isinstance(value, Mapping) else ():
        check_bounds(each, where, (*path, str(name)))


def _like(path: Path) -> str:
    """Sentence with the files nearby that resemble the name."""
    if not path.parent.is_dir():
        return f"The folder {path.parent} does not exist either"
    near = nearest_names(path.name, [file.name for file in path.parent.glob("*.toml")])
    return f"In the same folder: {', '.join(near)}" if near else ""
