"""What a command gives: its figures as JSON, its words, its folder of files."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.files import json_text, write_folder, write_json, write_text
from bedtide.report.templates import render, terminal_width

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.report.page.page import PageFile
    from bedtide.units import System

Writer = Callable[[Path], None]


def give(
    summary: Any,
    *,
    template: str,
    units: System,
    as_json: bool,
    folder: Path | None = None,
    files: Mapping[str, Writer] | None = None,
    json_name: str = "",
    page: PageFile | None = None,
) -> None:
    """Print a summary, as words or as JSON; write its files, the figures last, and its page."""
    figures = plain(summary)
    if folder is not None:
        write_folder(folder, {**(files or {}), json_name: partial(write_json, content=figures)})
    if page is not None:
        from bedtide.report.page.page import made_by, page_of

        made = made_by(click.get_current_context(), page.description)
        names = {"template": page.template, "words": template, **page.names}
        write_text(page.path, page_of(summary, units=units, made=made, **names))
    if as_json:
        click.echo(json_text(figures), nl=False)
    else:
        click.echo(render(template, units=units, width=terminal_width(), s=summary))
    if folder is not None:
        click.echo(f"Written: {folder}", err=True)
    if page is not None:
        click.echo(f"Written: {page.path}", err=True)


def plain(summary: Any) -> dict[str, Any]:
    """Figures of a summary under the names of its fields.

    A field that Python does not let be named so ends in an underscore, which goes; one whose
    default is None is left out where it is None, for it was not asked for.
    """
    found: dict[str, Any] = {}
    for field in dataclasses.fields(summary):
        value = getattr(summary, field.name)
        if value is not None or field.default is dataclasses.MISSING:
            found[field.name.rstrip("_")] = _plain(value)
    return found


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return plain(value)
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    return value


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
