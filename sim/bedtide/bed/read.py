"""From the TOML text of a bed description to the typed objects, all mistakes named together."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from bedtide.bed.build import build_bed
from bedtide.bed.description import Bed
from bedtide.bed.toml_text import toml_text
from bedtide.errors import FieldError, FileError, nearest_names, shown

EXAMPLE = "example_bed.toml"
_DEEPEST, _MOST = 6, 10**15
_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def read_bed(path: str | Path) -> Bed:
    """Bed described in a TOML file.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    Bed
        The bed, with the text of the file in ``description``.

    Raises
    ------
    FileError
        If the file is missing, a folder, not text or not TOML.
    InputError
        If the description has mistakes: all of them together, each with its key.
    """
    return bed_from_text(_text(Path(path)), where=Path(path).name)


def read_mapping(path: str | Path) -> dict[str, Any]:
    """Keys and values of a bed description, not yet checked: to be varied.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    dict
        Tables of keys and values as TOML reads them.

    Raises
    ------
    FileError
        If the file is missing, a folder, not text or not TOML.
    """
    return _mapping(_text(Path(path)), Path(path).name)


def bed_from_text(text: str, *, where: str = "bed description") -> Bed:
    """Bed described in TOML text.

    Parameters
    ----------
    text : str
        The description.
    where : str, default "bed description"
        Its file, for messages.

    Returns
    -------
    Bed
        The bed, with the text in ``description``.

    Raises
    ------
    FileError
        If the text is not TOML.
    InputError
        If the description has mistakes: all of them together, each with its key.
    """
    return build_bed(_mapping(text, where), where, text)


def bed_from_mapping(mapping: Mapping[str, Any], *, where: str = "bed description") -> Bed:
    """Bed described by a mapping, such as one that was read and then varied.

    Parameters
    ----------
    mapping : mapping
        Tables of keys and values.
    where : str, default "bed description"
        Where it comes from, for messages.

    Returns
    -------
    Bed
        The bed, with the TOML text of the mapping in ``description``.

    Raises
    ------
    InputError
        If the description has mistakes: all of them together, each with its key.
    """
    _bounded(mapping, where)
    return build_bed(mapping, where, toml_text(mapping))


def bed_text(bed: Bed) -> str:
    """TOML text that the bed can be read back from.

    Parameters
    ----------
    bed : Bed
        A bed that was read or made from a mapping.

    Returns
    -------
    str
        Its description; empty for a bed that was put together in Python.
    """
    return bed.description


def example_text() -> str:
    """TOML text of the built-in example: a commented description to start from.

    Returns
    -------
    str
        The text.
    """
    return resources.files("bedtide").joinpath("data", EXAMPLE).read_text(encoding="utf-8")


def example_bed() -> Bed:
    """Return the built-in example bed, which is invented.

    Returns
    -------
    Bed
        The bed.
    """
    return bed_from_text(example_text(), where=EXAMPLE)


def _mapping(text: str, where: str) -> dict[str, Any]:
    """Tables of the text [1]; a mistake in the TOML is named by its line."""
    lines = text.splitlines()
    try:
        mapping = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        found = _AT_LINE.search(str(error))
        line = int(found[1]) if found and found[1] else len(lines)
        problem = _AT_LINE.sub("", str(error))
        if not isinstance(error, tomllib.TOMLDecodeError):
            line = 1 + max(range(len(lines)), key=lambda at: len(lines[at]))
            problem = "a number too long, or brackets too deep"
        reads = shown(lines[line - 1]) if text.strip() else ""
        raise FileError(
            f"{where}, line {line}",
            f"not TOML: {problem[:1].lower()}{problem[1:]}",
            expected='lines such as  depth = "42 cm"  below a section such as  [box]',
            hint=f"The line reads  {reads}" if reads else "",
        ) from None
    _bounded(mapping, where)
    return mapping


def _bounded(mapping: Mapping[str, Any], where: str) -> None:
    """Refuse what no bed needs and no code below expects: deep brackets, endless numbers."""
    values: list[tuple[str, int, Any]] = [(str(key), 1, value) for key, value in mapping.items()]
    for key, depth, value in values:  # grows as it goes
        if isinstance(value, int) and abs(value) > _MOST:
            what, expected = "a number of too many digits", f"at most {len(str(_MOST)) - 1} digits"
        elif depth > _DEEPEST:
            what, expected = "too many brackets inside one another", f"at most {_DEEPEST}"
        else:
            if isinstance(value, (list, tuple)):
                value = {str(at): each for at, each in enumerate(value)}
            if isinstance(value, Mapping):
                values += [(f"{key}.{name}", depth + 1, each) for name, each in value.items()]
            continue
        raise FieldError(f"{where}, {shown(key)}", what, expected=expected)


def _text(path: Path) -> str:
    """Text of the file, UTF-8 with or without a byte-order mark."""
    try:
        if path.is_dir():
            raise FileError(str(path), "a folder", expected="a bed description, a .toml file")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise FileError(str(path), "there is no such file", hint=_like(path)) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise FileError(
            f"{path.name}, line {line}",
            "not UTF-8 text",
            expected="a plain text file",
            hint="Save it again as UTF-8",
        ) from None
    except OSError as error:
        reason = (error.strerror or "it can't be read").lower()
        raise FileError(str(path), f"can't be read: {reason}") from None


def _like(path: Path) -> str:
    """Sentence with the files nearby that resemble the name."""
    if not path.parent.is_dir():
        return f"The folder {path.parent} does not exist either"
    near = nearest_names(path.name, [file.name for file in path.parent.glob("*.toml")])
    if near:
        return f"In the same folder: {', '.join(near)}"
    return "bedtide new FOLDER  writes a description to start from"
