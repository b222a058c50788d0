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
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from markupsafe import Markup, escape

from bedtide import __version__
from bedtide.bed import bed_text
from bedtide.errors import FileError, printable
from bedtide.files import check_folder
from bedtide.report.bed_view import bed_view
from bedtide.report.options import FILE, command_line
from bedtide.report.page import positions
from bedtide.report.shapes import LOOKS, svg
from bedtide.report.style import COLOURS
from bedtide.report.templates import environment, one_line, parts_of

if TYPE_CHECKING:
    import jinja2

    from bedtide.bed import Bed
    from bedtide.units import System


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


def made_by(ctx: click.Context) -> dict[str, Any]:
    """How a page came to be: the command as it was typed, and the SHA-256 of each file it read."""
    paths: list[Path] = []
    for param in ctx.command.params:
        value = ctx.params.get(param.name or "")
        if param.type is FILE and param.name not in ("folder", "page") and value:
            paths += value if isinstance(value, tuple) else (value,)
    read = [(printable(path.name), path.read_bytes()) for path in paths if path.is_file()]
    files = [(name, hashlib.sha256(content).hexdigest()) for name, content in read]
    return {"command": printable(command_line(ctx, {})), "files": files}


def page_of(
    summary: Any,
    template: str,
    bed: Bed,
    *,
    words: str,
    units: System,
    made: Mapping[str, Any],
    **names: Any,
) -> str:
    """Text of a page: `template` filled with the parts of the text report `words` and drawings."""
    description = "\n".join(map(printable, bed_text(bed).splitlines()))
    ready = {"said": parts_of(words, units=units, s=summary), "bed": bed_view(bed, units)}
    page = pages(units).get_template(template)
    names |= {"s": summary}
    return page.render(description=description, made=made, **ready, **one_line(names))


@cache
def pages(units: System) -> jinja2.Environment:
    """The templates of pages with what places their drawings; texts go through `one_line` first."""
    made = environment(units, markup=True)
    made.finalize = lambda value: f"{value:.6g}" if isinstance(value, float) else value
    made.filters |= {"coded": _coded, "svg": svg}
    made.filters["squeezed"] = lambda text: Markup(re.sub(r"\n\s+", "\n", text))
    made.globals |= {"at": positions, "colours": COLOURS, "looks": LOOKS, "version": __version__}
    styles = made.get_template("report/page/page.css").render().strip()
    script = (Path(__file__).parent / "page.js").read_text(encoding="utf-8").strip()
    made.globals |= {"styles": Markup(styles), "script": Markup(script)}
    made.globals["policy"] = (
        f"default-src 'none'; img-src data:; style-src '{_hash(styles)}'; "
        f"script-src '{_hash(script)}'; base-uri 'none'; form-action 'none'"
    )
    return made


def _coded(text: str) -> Markup:
    """Escaped text, with commands between backticks set apart."""
    return Markup(re.sub(r"`([^`]*)`", r"<code>\1</code>", str(escape(text))))


def _hash(text: str) -> str:
    """What the policy of the page knows a script or a style by."""
    found = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(found).decode()}"
