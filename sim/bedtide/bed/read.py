"""Between the TOML text of a description and the bed; all mistakes of it named together."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError
from tomlkit.exceptions import TOMLKitError

from bedtide.bed.forms import form_keys
from bedtide.bed.model import KEYS, LISTS, SECTIONS, Bed, sections_of
from bedtide.bed.quantities import adapter, at, closest, written
from bedtide.bed.sections import write_crop
from bedtide.crop import crop, crops
from bedtide.errors import (
    ChoiceError,
    FieldError,
    FileError,
    InputError,
    UnitError,
    raise_all,
    shown,
)
from bedtide.toml_text import check_bounds, tables_of, text_of

EXAMPLE = "example_bed.toml"
_LINES = 'depth = "42 cm"  below a section such as  [box]'
_NEW = "bedtide new FOLDER  writes a description to start from"
_EXAMPLES = {
    "bed": '[bed] with name = "Kitchen bed"',
    "box": '[box] with length, width, depth and freeboard, such as  depth = "42 cm"',
    "reservoir": '[reservoir] with form = "pipes", "crates", "false floor" or "stone" and its keys',
    "overflow": '[overflow] with height = "9 cm" of its lower lip, or state = "none"',
    "mix": '[mix.wick] and [mix.top], each with medium = "...", a recipe or a bench measurement',
    "planting": "[[planting]] with crop, planted and area_share; for a bed without plants write"
    "  planting = []  on the first line",
    "watering": '[watering] with when = "below share" and share = "30 %", or when = "never"',
}


def read_bed(path: str | Path) -> Bed:
    """Bed described in a TOML file.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    Bed
        The bed, with the text of the file in ``source``.

    Raises
    ------
    FileError
        If the file is missing, a folder, not text or not TOML.
    InputError
        If the description has mistakes: all of them together, each with its key.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from bedtide.bed import example_text
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "bed.toml"
    >>> _ = path.write_text(example_text(), encoding="utf-8")
    >>> read_bed(path) == example_bed()
    True
    """
    return bed_from_text(_text(path), where=Path(path).name)


def read_mapping(path: str | Path) -> tomlkit.TOMLDocument:
    """Keys and values of a bed description with its comments, not yet checked: to be varied."""
    return document_of(_text(path), where=Path(path).name)


def document_of(text: str, *, where: str = "bed description") -> tomlkit.TOMLDocument:
    """Keys and values of TOML text with its comments, not yet checked: to be varied."""
    tables_of(text, where, _LINES)
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise FileError(where, f"not TOML: {error}") from None


def bed_from_text(text: str, *, where: str = "bed description") -> Bed:
    """Bed described in TOML text; `where` names its file in messages."""
    return _bed(tables_of(text, where, _LINES), where, text)


def bed_from_mapping(mapping: Mapping[str, Any], *, where: str = "bed description") -> Bed:
    """Bed described by a mapping, such as one that was read and then varied."""
    source: Any = None
    if isinstance(mapping, tomlkit.TOMLDocument):
        source, mapping = mapping.as_string(), mapping.unwrap()
    check_bounds(mapping, where)
    return _bed(dict(mapping), where, source or copy.deepcopy(dict(mapping)))


def bed_text(bed: Bed) -> str:
    """TOML text that the bed can be read back from: as it was read, else from its values."""
    if isinstance(bed.source, str):
        return bed.source
    return tomlkit.dumps(bed.source or _described(bed))


def _described(bed: Bed) -> dict[str, Any]:
    """Description of a bed that was put together in Python."""
    parts = adapter(Bed).dump_python(bed, mode="json", include={"wick_mix", "top_mix", "plantings"})
    every = dict.fromkeys((*bed.own_crops, *(planting.crop for planting in bed.plantings)))
    own = [each for each in every if each.name not in crops() or crop(each.name) != each]
    return {
        "bed": {"name": bed.name},
        "box": written(bed.box),
        "reservoir": {"form": bed.reservoir.form, **written(bed.reservoir)},
        "overflow": written(bed.overflow),
        "mix": {"wick": parts["wick_mix"], "top": parts["top_mix"]},
        "surface": written(bed.surface),
        "crop": [write_crop(each) for each in own],
        "planting": parts["plantings"],
        "watering": written(bed.watering),
        "site": written(bed.site),
        "start": {"level": bed.start_level},
    }


def example_text() -> str:
    """TOML text of the built-in example: a commented description to start from."""
    return resources.files("bedtide").joinpath("data", EXAMPLE).read_text(encoding="utf-8")


def example_bed() -> Bed:
    """Return the built-in example bed, which is invented.

    Returns
    -------
    Bed
        The bed.

    Examples
    --------
    >>> round(example_bed().start_level, 2)
    1.0
    """
    return bed_from_text(example_text(), where=EXAMPLE)


def _text(path: str | Path) -> str:
    """Text of a bed description."""
    return text_of(Path(path), "a bed description", hint=_NEW)


def _bed(mapping: dict[str, Any], where: str, source: Any) -> Bed:
    """Bed of a description, or all its mistakes in the order of its sections."""
    found: list[tuple[str, InputError]] = []
    known = _known(mapping, where, found)
    bad = [path for path, _ in found]
    try:
        bed: Bed = adapter(Bed).validate_python({**known, "source": source}, context=mapping)
    except ValidationError as error:
        for item in error.errors(include_url=False, include_input=False):
            told = _told(mapping, where, item)
            found += [each for each in told if each[0] not in bad]
            if item["type"] == "missing":
                bad.append(told[0][0])
    places = (*(name for name in mapping if name not in SECTIONS), *SECTIONS)
    found.sort(key=lambda each: places.index(each[0].split(".")[0]))
    raise_all([error for _, error in found])
    return bed


def _known(
    mapping: dict[str, Any], where: str, found: list[tuple[str, InputError]]
) -> dict[str, Any]:
    """What can be checked further: sections and keys that do not exist are told and left out."""
    known = copy.deepcopy(mapping)

    def note(path: str, problem: str, expected: str, hint: str = "") -> None:
        place = _place(mapping, where, path)
        found.append((path, FieldError(place, problem, expected, hint=hint)))
        *outer, last = path.split(".")
        inner = at(known, ".".join(outer)) if outer else known
        del inner[last]

    for name, value in mapping.items():
        if name not in SECTIONS:
            offered = "one of: " + ", ".join(SECTIONS)
            note(name, "there is no such section", offered, closest(name, SECTIONS))
        elif name in LISTS and not isinstance(value, list):
            expected = f"[[{name}]] with two brackets on either side, once for each crop"
            note(name, "not a list of crops", expected)
        elif name not in LISTS and not isinstance(value, dict):
            note(name, "not a section", f"[{name}] on a line of its own with its keys below")
    for name in list(at(known, "mix") or ()):
        if name not in ("wick", "top"):
            expected = "[mix.wick] below the crown of the reservoir and [mix.top] above it"
            note(f"mix.{name}", "there is no such mix", expected)
    for path, keys in sections_of(mapping):
        for name in list(at(known, path) or ()) if isinstance(at(known, path), dict) else ():
            if name not in keys:
                hint = _home_of(name, keys)
                note(f"{path}.{name}", "there is no such key", "one of: " + ", ".join(keys), hint)
    return known


def _home_of(name: str, keys: Mapping[str, str]) -> str:
    """Where a key that a section has not belongs, or the nearest that it has."""
    forms = form_keys()
    every = {
        **{path.removesuffix(".*"): own for path, own in KEYS.items() if path.count(".") < 2},
        "a reservoir of pipes": forms["pipes"],
        "a reservoir of crates, a false floor or stone": forms["crates"],
    }
    elsewhere = [section for section, own in every.items() if name in own and own != keys]
    return f"It belongs to {' or '.join(elsewhere)}" if elsewhere else closest(name, keys)


def _told(mapping: dict[str, Any], where: str, item: Any) -> list[tuple[str, InputError]]:
    """Key path and message of each mistake in what pydantic found."""
    names = [str(name) for name in item["loc"] if name != "[key]"]
    if item["type"] == "bed":
        found = []
        for error in item["ctx"]["errors"]:
            path = ".".join(filter(None, [*names, error.where]))
            bare = isinstance(error, UnitError) or item["loc"][-1] == "[key]"
            place = f"{where}, {path}" if bare else _place(mapping, where, path)
            found.append((path, error.moved(place)))
        return found
    path = ".".join(names)
    if item["type"] == "literal_error":
        offered = re.findall(r"'(.*?)'", item["ctx"]["expected"])
        place, known = _place(mapping, where, path), "one of: " + ", ".join(offered)
        problem, hint = "not one of the words known here", closest(str(at(mapping, path)), offered)
        return [(path, ChoiceError(place, problem, known, hint=hint))]
    problem, expected = "not a table", "keys and values in { } or a section"
    if item["type"] == "missing":
        while len(names) > 1 and at(mapping, ".".join(names[:-1])) is None:
            names.pop()
        path, problem = ".".join(names), "missing"
        if len(names) == 1:
            expected = _EXAMPLES[path]
        elif names[0] == "mix" and len(names) == 2:
            expected = f"a section [{path}]"
        else:
            keys = dict(sections_of(mapping))[".".join(names[:-1])]
            expected = f"a line such as  {names[-1]} = {keys[names[-1]]}"
    elif item["type"] == "string_type":
        problem, expected = "not text", "text in quotation marks"
    elif path == "overflow.change":
        problem = "not a list of sections"
        expected = "[[overflow.change]] with two brackets on either side"
    elif names[0] in LISTS or path in KEYS:
        line = f"[[{names[0]}]]" if names[0] in LISTS else f"[{path}]"
        problem, expected = "not a section", f"{line} on a line of its own with its keys below"
    return [(path, FieldError(_place(mapping, where, path), problem, expected))]


def _place(mapping: dict[str, Any], where: str, path: str) -> str:
    """File and key of a mistake, with the value as it was written where that is one word."""
    given = at(mapping, path)
    if given is None or isinstance(given, (dict, list)):
        return f"{where}, {path}"
    return f"{where}, {path} = {shown(tomlkit.item(given).as_string())}"
