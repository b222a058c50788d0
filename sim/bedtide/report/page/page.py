"""A page from a summary: the words of its text report, drawings of the same figures, in one file.

A page template extends ``page.html.j2`` and fills its blocks; drawings are macros of ``charts.j2``
and ``bed.j2``. Whatever a user wrote goes through autoescape, once, here. The page asks for nothing
from anywhere: its policy refuses every request, and every script and style but its own.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click
from markupsafe import Markup, escape

from bedtide import __version__
from bedtide.errors import FileError, printable
from bedtide.files import check_folder
from bedtide.report.options import FILE, command_line
from bedtide.report.page import positions
from bedtide.report.shapes import LOOKS, svg
from bedtide.report.style import COLOURS
from bedtide.report.templates import environment, one_line, parts_of

if TYPE_CHECKING:
    import jinja2

    from bedtide.bed import Bed
    from bedtide.units import System


class PageFile(NamedTuple):
    """A page that was asked for: its file, its template, and what that shows beside the summary."""

    path: Path
    template: str
    names: Mapping[str, Any]
    description: str  # of the bed that is drawn, to copy into a file


@dataclass(frozen=True, kw_only=True)
class Made:
    """How a page came to be, so that it can be made again."""

    command: str
    files: tuple[tuple[str, str], ...]  # name and SHA-256 of each file that was read
    version: str
    description: str


def check_page(path: Path | None) -> None:
    """Refuse a page that could not be written, or whose name is not that of a page."""
    if path is None:
        return
    if path.suffix.lower() not in (".html", ".htm"):
        raise FileError(
            "--page",
            f'"{path}" does not end in .html',
            expected="the name of a page, such as  --page bed.html",
            hint="Another file of that name would have been lost",
        )
    if path.is_dir():
        raise FileError("--page", f"{path} is a folder", expected="the name of a file")
    check_folder(path.parent)
    if not path.parent.is_dir():
        raise FileError(
            "--page",
            f"there is no folder {path.parent}",
            hint="Make it first, or choose another",
        )


def page_file(path: Path, template: str, bed: Bed, units: System, **names: Any) -> PageFile:
    """A page that draws a bed."""
    from bedtide.bed import bed_text
    from bedtide.report.bed_view import bed_view

    return PageFile(path, template, {"bed": bed_view(bed, units), **names}, bed_text(bed))


def made_by(ctx: click.Context, description: str) -> Made:
    """The command as it was typed, every file that it read, and the bed."""
    paths: list[Path] = []
    for param in ctx.command.params:
        value = ctx.params.get(param.name or "")
        if param.type is FILE and param.name not in ("folder", "page") and value:
            paths += value if isinstance(value, tuple) else (value,)
    files = tuple((printable(path.name), checksum(path)) for path in paths if path.is_file())
    return Made(
        command=printable(command_line(ctx, {})),
        files=files,
        version=__version__,
        description="\n".join(map(printable, description.splitlines())),
    )


def checksum(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def page_of(
    summary: Any,
    *,
    template: str,
    words: str,
    units: System,
    made: Made,
    **names: Any,
) -> str:
    """Text of a page: `template` filled with the parts of the text report `words` and drawings."""
    pages = _pages(units)
    styles, script = _styles(units), _script()
    shown = {name: one_line(value) for name, value in names.items()}
    return pages.get_template(template).render(
        s=one_line(summary),
        said=parts_of(words, units=units, s=summary),
        made=made,
        styles=Markup(styles),
        script=Markup(script),
        policy=f"default-src 'none'; img-src data:; style-src '{_hash(styles)}'; "
        f"script-src '{_hash(script)}'; base-uri 'none'; form-action 'none'",
        **shown,
    )


def piece_of(template: str, *, units: System, **names: Any) -> str:
    """Text of a template of pages by itself, such as a page that a server gives."""
    shown = {name: one_line(value) for name, value in names.items()}
    return _pages(units).get_template(template).render(styles=Markup(_styles(units)), **shown)


@cache
def _pages(units: System) -> jinja2.Environment:
    """The templates of pages with what places their drawings."""
    made = environment(units, markup=True)
    made.globals |= {"at": positions, "colours": COLOURS, "looks": LOOKS}
    made.finalize = lambda value: f"{value:.6g}" if isinstance(value, float) else value
    made.filters |= {"coded": _coded, "svg": svg}
    made.filters["squeezed"] = lambda text: Markup(re.sub(r"\n\s+", "\n", text))
    return made


@cache
def _styles(units: System) -> str:
    return _pages(units).get_template("report/page/page.css").render().strip()


@cache
def _script() -> str:
    return (Path(__file__).parent / "page.js").read_text(encoding="utf-8").strip()


def _coded(text: str) -> Markup:
    """Escaped text, with commands between backticks set apart."""
    return Markup(re.sub(r"`([^`]*)`", r"<code>\1</code>", str(escape(text))))


def _hash(text: str) -> str:
    """What the policy of the page knows a script or a style by."""
    found = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(found).decode()}"
