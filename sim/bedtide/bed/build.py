"""The typed objects from the tables of a description, all mistakes noted before any is raised."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bedtide.bed.description import Bed, Site, Surface, Watering
from bedtide.bed.forms import Reservoir
from bedtide.bed.geometry_checks import build_box, build_overflow, build_reservoir
from bedtide.bed.mixes import build_mix
from bedtide.bed.plantings import build_plantings
from bedtide.bed.problems import Problems
from bedtide.bed.sections import (
    FORMS,
    REQUIRED,
    SECTIONS,
    TABLES,
    LayerTable,
    PipesTable,
    WateringTable,
)
from bedtide.errors import nearest_names
from bedtide.mix import Mix

_NEEDS = {"below share": "share", "every n days": "every", "weekdays": "weekdays"}
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


def build_bed(mapping: Mapping[str, Any], where: str, text: str) -> Bed:
    """Bed of a description.

    Parameters
    ----------
    mapping : mapping
        Tables of keys and values.
    where : str
        Its file, for messages.
    text : str
        TOML text to keep in the bed.

    Returns
    -------
    Bed
        The bed.

    Raises
    ------
    InputError
        If there are mistakes: all of them together.
    """
    problems = Problems(mapping, where)
    _sections(mapping, problems)
    tables = {name: _table(name, mapping, problems) for name in TABLES}
    reservoir_table = _reservoir_table(mapping, problems)
    box = build_box(tables["box"], problems) if tables["box"] else None
    reservoir: Reservoir | None = None
    if reservoir_table is not None:
        reservoir = build_reservoir(reservoir_table, box, problems)
    overflow = None
    if tables["overflow"] is not None:
        overflow = build_overflow(tables["overflow"], box, reservoir, problems)
    mixes: dict[str, Mix | None] = {
        name: build_mix(tables[name], name, problems) if tables[name] else None
        for name in ("mix.wick", "mix.top")
    }
    plantings = build_plantings(mapping.get("planting", []), problems)
    watering = _watering(tables["watering"], problems) if tables["watering"] else None
    problems.raise_all()
    surface, site = tables["surface"], tables["site"]
    wick_mix, top_mix = mixes["mix.wick"], mixes["mix.top"]
    assert box is not None
    assert reservoir is not None
    assert overflow is not None
    assert wick_mix is not None
    assert top_mix is not None
    assert watering is not None
    return Bed(
        name=tables["bed"].name,
        box=box,
        reservoir=reservoir,
        overflow=overflow,
        wick_mix=wick_mix,
        top_mix=top_mix,
        surface=Surface(surface.open_share, surface.mulch_share),
        plantings=plantings,
        watering=watering,
        site=Site(site.latitude, site.elevation, site.exposure),
        start_level=tables["start"].level,
        description=text,
    )


def _sections(mapping: Mapping[str, Any], problems: Problems) -> None:
    """Note sections that do not exist, and those that must and are not there."""
    for name in mapping:
        if name not in SECTIONS:
            close = nearest_names(name, SECTIONS, most=1)
            problems.add(
                name,
                "there is no such section",
                kind="field",
                expected="one of: " + ", ".join(SECTIONS),
                hint=f'Closest: "{close[0]}"' if close else "",
            )
    for name in REQUIRED:
        if name not in mapping:
            problems.add(name, "missing", kind="field", expected=_EXAMPLES[name])
    mix = mapping.get("mix")
    if isinstance(mix, Mapping):
        for name in mix:
            if name not in ("wick", "top"):
                expected = "[mix.wick] below the crown of the reservoir and [mix.top] above it"
                problems.add(f"mix.{name}", "there is no such mix", kind="field", expected=expected)


def _table(name: str, mapping: Mapping[str, Any], problems: Problems) -> Any:
    """Typed table of one section, None where it is missing or has mistakes."""
    values = problems.given(name)
    outer = name.split(".")[0]
    if values is None:
        if outer in REQUIRED:
            if outer in mapping:
                problems.add(name, "missing", kind="field", expected=f"a section [{name}]")
            return None
        values = {}
    return problems.table(TABLES[name], values, name)


def _reservoir_table(
    mapping: Mapping[str, Any], problems: Problems
) -> PipesTable | LayerTable | None:
    """Typed table of the reservoir, by its form."""
    values = mapping.get("reservoir")
    if values is None:
        return None
    form = values.get("form") if isinstance(values, Mapping) else None
    if isinstance(values, Mapping) and (form is None or str(form).strip().lower() not in FORMS):
        close = nearest_names(str(form), FORMS, most=1) if form is not None else []
        problems.add(
            "reservoir.form",
            "missing" if form is None else "there is no such form of reservoir",
            kind="field" if form is None else "choice",
            expected="one of: " + ", ".join(FORMS),
            hint=f'Closest: "{close[0]}"' if close else "",
        )
        return None
    table = FORMS[str(form).strip().lower()] if form is not None else PipesTable
    found: PipesTable | LayerTable | None = problems.table(table, values, "reservoir")
    return found


def _watering(table: WateringTable, problems: Problems) -> Watering:
    """Watering rule of the section; a missing number is noted."""
    needed = _NEEDS.get(table.when)
    if needed is not None and getattr(table, needed) is None:
        examples = {"share": '"30 %"', "every": '"14 days"', "weekdays": '["mon", "thu"]'}
        problems.add(
            f"watering.{needed}",
            f'missing, and when = "{table.when}" needs it',
            kind="field",
            expected=f"a line such as  {needed} = {examples[needed]}",
        )
    return Watering(
        when=table.when,
        share=table.share,
        every=table.every,
        weekdays=table.weekdays or (),
        volume=table.amount,
        check_every=table.check_every,
    )
