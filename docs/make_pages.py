"""Run what the pages show and put what it prints into them.  python docs/make_pages.py

In README.md and the pages of docs/, in order, in one empty folder for each page:

* a ``toml`` block that begins with a comment such as ``# bed.toml`` is written to that file;
* a ``python`` block is run, and a ``text`` block right after it holds what it prints;
* between ``<!-- options -->`` and ``<!-- end -->`` stands the table of options for reading weather,
  between ``<!-- layouts -->`` and ``<!-- end -->`` that of the files that can be read, between
  ``<!-- priors -->`` and ``<!-- end -->`` that of what is not known of a bed;
* in a ``console`` block the lines with ``$`` are run, and the others hold what they print. A
  number behind the word, as in ``console 4``, keeps that many lines of each output; ``console
  refused`` is for commands that must end with a message and exit status 2.
"""

import contextlib
import io
import math
import os
import re
import shlex
import tempfile
from pathlib import Path

from click.testing import CliRunner

from bedtide.cli import main
from bedtide.column.compiled import NOTICE
from bedtide.many import priors
from bedtide.tables import sources
from bedtide.weather import OPTIONS
from bedtide.weather.layouts import Layout, layouts

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
_BLOCK = re.compile(r"^```(?P<kind>\w+)(?: (?P<how>\d+|refused))?\n(?P<body>.*?)^```$", re.M | re.S)
_OPTIONS = re.compile(r"(?<=^<!-- options -->\n).*?(?=^<!-- end -->$)", re.M | re.S)
_PRIORS = re.compile(_OPTIONS.pattern.replace("options", "priors"), re.M | re.S)
_LAYOUTS = re.compile(_OPTIONS.pattern.replace("options", "layouts"), re.M | re.S)
_FILE = re.compile(r"# ([\w-]+\.toml)\n")


def made(text: str) -> str:
    """The page with what its commands and programs print today."""
    names: dict[str, object] = {}
    printed: str | None = None

    def block(found: re.Match[str]) -> str:
        nonlocal printed
        kind, body = found["kind"], found["body"]
        after, printed = printed, None
        if kind == "toml" and (file := _FILE.match(body)):
            Path(file[1]).write_text(body, encoding="utf-8")
        elif kind == "python":
            printed = _run(body, names)
        elif kind == "text" and after is not None:
            body = after
        elif kind == "console":
            commands = [line for line in body.splitlines() if line.startswith("$ ")]
            how = found["how"] or ""
            most = int(how) if how.isdecimal() else None
            status = 2 if how == "refused" else 0
            body = "".join(
                f"{line}\n{_shown(_command(line[2:], status), most)}" for line in commands
            )
        head = f"{kind} {found['how']}" if found["how"] else kind
        return f"```{head}\n{body}```"

    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for place, table in ((_OPTIONS, _options), (_LAYOUTS, _layouts), (_PRIORS, _priors)):
            text = place.sub(lambda _, table=table: table(), text)
        return _BLOCK.sub(block, text)


def _options() -> str:
    rows = ["| on the command line | in Python | |", "|---|---|---|"]
    for name, about in OPTIONS.items():
        values = "" if about.many else ", ".join(f"`{each}`" for each in about.choices)
        usual = "" if about.default in (None, ()) else f" By default `{about.default}`."
        shown = f" {about.shown}" if about.shown else ""
        says = about.sentence + (f" One of {values}." if values else "") + usual
        rows.append(f"| `{about.flag}{shown}` | `{name}` | {says} |")
    return "\n".join(rows) + "\n"


def _layouts() -> str:
    rows = ["| file | whose, and how to get it | rain under a date | tried on real files |"]
    rows.append("|---|---|---|---|")
    for layout in layouts():
        tried = "yes" if layout.tried else "no: written from its description"
        rain = "" if layout.refuse else _rain_of(layout)
        what = f"refused: {layout.refuse}" if layout.refuse else tried
        rows.append(f"| {layout.name} | {layout.whose}: {layout.how} | {rain} | {what} |")
    return "\n".join(rows) + "\n"


def _priors() -> str:
    rows = ["| what | the number | low | high | where from |", "|---|---|---|---|---|"]
    for name, prior in priors().items():
        ends = [
            "the mix's own" if math.isnan(end) else f"{end:g}" for end in (prior.low, prior.high)
        ]
        known = [
            f"{sources()[key]['authors'].split()[0]} {sources()[key]['year']}"
            for key in prior.sources
        ]
        where = "; ".join([*known, prior.standing])
        rows.append(f"| {name} | {prior.of} | {' | '.join(ends)} | {prior.note} ({where}) |")
    return "\n".join(rows) + "\n"


def _rain_of(layout: Layout) -> str:
    if layout.shape:
        return "by the hour at which the gauge is read"
    keys = {heading.key for heading in layout.columns.values()}
    if not keys & {"rain", "rain_counter"}:
        return "none in it"
    hours = layout.clock is not None or layout.stamp == "end"
    return "by the hour" if hours else f"`{layout.rain_day}`"


def _run(code: str, names: dict[str, object]) -> str:
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(code, "<page>", "exec"), names)
    return said.getvalue()


def _command(line: str, status: int) -> str:
    program, *words = shlex.split(line)
    if program != "bedtide":
        raise ValueError(f"only bedtide is run: {line}")
    result = CliRunner().invoke(main, words)
    if result.exit_code != status:
        raise RuntimeError(f"{line}\n{result.output}")
    said = result.output.replace(f"{NOTICE}\n", "")  # comes once, on the first run of all
    return said.rstrip("\n") + "\n"


def _shown(output: str, most: int | None) -> str:
    lines = output.splitlines(keepends=True)
    return output if most is None or len(lines) <= most else "".join(lines[:most]) + "...\n"


os.environ["COLUMNS"] = "80"  # the width of what the pages show


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(made(page.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
