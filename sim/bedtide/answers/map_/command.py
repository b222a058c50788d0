"""bedtide map: beds over a region, place by place."""

from __future__ import annotations

import datetime
import importlib.util
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide import __version__
from bedtide.errors import FieldError, FileError, Option
from bedtide.report.options import (
    FILE,
    Asked,
    Date,
    WeatherCommand,
    answer,
    from_option,
    reading_words,
    to_option,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.map_.run import Done, Job
    from bedtide.bed import Bed
    from bedtide.weather.options import Options

_NEEDED = ("dask", "distributed", "zarr")
_OF_ONE = ("point", "station", "gauge", "borrow")  # options that a single place has
_STORE = "map.zarr"
_QUIET = 30.0  # s between two lines where it is no terminal


@click.command(
    "map", cls=WeatherCommand, short_help="Beds over a region: how often, how wet, where."
)
@click.argument("weather", metavar="WEATHER...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--bed", "files", multiple=True, type=FILE, metavar="BED.toml", help="A bed; once for each."
)
@from_option
@to_option
@click.option(
    "--leave",
    type=Date(),
    metavar="DATE",
    help="Also how long the beds last when left full on this day of every year.",
)
@click.option(
    "--workers",
    type=click.IntRange(1),
    metavar="N",
    help="Processes to run on this machine, by default one for each core.",
)
@click.option(
    "--scheduler", metavar="ADDRESS", help="A dask cluster to run on, as tcp://10.0.0.1:8786."
)
@click.option(
    "--chunk",
    type=click.IntRange(1),
    metavar="PLACES",
    help="Places in a task; by default as many as take some 150 MB.",
)
@click.option("--anew", is_flag=True, help="Drop what an earlier run left in the folder.")
@answer(out="Write the map here; needed.")
def map_(
    weather: tuple[Path, ...],
    files: tuple[Path, ...],
    start: datetime.date | None,
    end: datetime.date | None,
    leave: datetime.date | None,
    workers: int | None,
    scheduler: str | None,
    chunk: int | None,
    anew: bool,
    asked: Asked,
) -> None:
    """How beds do at every place of a region, and which of them suits where.

    WEATHER is a CF NetCDF file on a grid or several, a zarr store, or a folder of station files.
    It writes map.zarr (all figures), map.nc (those of the maps), map.json, a PNG for each map and
    map.html. If it is stopped, the same command carries on; needs  pip install "bedtide[map]".
    """
    missing = [name for name in _NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise FieldError(
            "map",
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not installed",
            hint='Install what maps need with  pip install "bedtide[map]"',
        )
    from bedtide.answers.map_.run import Job, fingerprints, read, run_map
    from bedtide.bed import bed_text
    from bedtide.many import Ask
    from bedtide.report.given import dates_in_order

    dates_in_order(start, end)
    if asked.folder is None:
        raise FieldError("--out", "not given", expected="a folder, as  --out region")
    asked.check()
    store = asked.folder / _STORE
    asked = replace(asked, page=asked.page or asked.folder / "map.html")
    beds, assumed = _beds(files)
    paths = tuple(_there(path) for path in weather)
    if not paths:
        raise FieldError("WEATHER", "not given", expected="a NetCDF file, a zarr store or a folder")
    options = _options(asked.reading, start, end)
    job = Job(paths, options, tuple(beds), Ask(first=start, last=end, leave=leave))
    basis = {
        "version of bedtide": __version__,
        **{f"bed {bed.name}": bed_text(bed) for bed in beds},
        **{f"weather {name}": mark for name, mark in fingerprints(paths).items()},
        "option of reading": repr(options),
        "option from, to, leave": repr(job.ask),
    }
    try:
        done = run_map(
            job,
            store,
            basis,
            chunk=chunk,
            anew=anew,
            scheduler=scheduler,
            workers=workers,
            tell=_tell(),
        )
    except KeyboardInterrupt:
        click.echo("Every finished part is kept: the same command carries on.", err=True)
        raise
    _give(read(store), done, beds, assumed, job, asked)


def _give(
    figures: xr.Dataset,
    done: Done,
    beds: list[Bed],
    assumed: list[str],
    job: Job,
    asked: Asked,
) -> None:
    """Write pictures, summary and page beside the store, and print the answer."""
    from bedtide.answers.map_.layers import ground_of, path_of, sheets_of
    from bedtide.answers.map_.pictures import sheet_figure
    from bedtide.answers.map_.summary import compass, drawn_of, names_of, summary_of, unstacked
    from bedtide.report.templates import listed

    drawn = drawn_of(figures)
    source = listed([path.name for path in job.paths])
    summary = summary_of(
        figures, drawn, done, source=source, ask=job.ask, assumptions=[*assumed, *done.notes]
    )
    ground = ground_of(drawn)
    sheets = sheets_of(drawn, asked.units) if ground is not None and summary.counted else []
    names = names_of(figures)
    files: dict[str, Any] = {"map.nc": unstacked(drawn)}
    for each in sheets:
        assert ground is not None
        figure = sheet_figure(each, ground, names)
        files[f"{each.name}.png"] = figure
    more = {"sheets": sheets, "ground": ground, "path_of": path_of, "compass": compass}
    best = max(summary.beds, key=lambda bed: bed.places_suited).bed  # the first of equals
    asked.give(
        summary,
        "map_/text.j2",
        files=files,
        json_name="map.json",
        page="map_/page.j2",
        bed=next(bed for bed in beds if bed.name == best),
        shown=lambda: more,
    )


def _beds(files: tuple[Path, ...]) -> tuple[list[Bed], list[str]]:
    """The beds, their full dates made to return every year, and what that assumes."""
    from bedtide.answers.map_.layers import BEDS
    from bedtide.many import repeated
    from bedtide.report.given import given_bed

    if not files:
        raise FieldError("--bed", "not given", expected="a bed description, as  --bed BED.toml")
    given = [repeated(given_bed(file)) for file in files]
    beds = [bed for bed, _ in given]
    names = [bed.name for bed in beds]
    for name in names:
        if names.count(name) > 1:
            raise FieldError("--bed", f'two beds are called "{name}"', expected="a name for each")
    if len(beds) > len(BEDS):
        raise FieldError("--bed", f"{len(beds)} beds", expected=f"at most {len(BEDS)} on one map")
    assumed = dict.fromkeys(sentence for _, told in given for sentence in told)
    return beds, [*assumed, *(bed.fitted for bed in beds if bed.fitted)]


def _options(
    reading: dict[str, Any], start: datetime.date | None, end: datetime.date | None
) -> Options:
    """How the weather is read; a day more on each side, as for one place."""
    from bedtide.weather.options import options_from

    words = reading_words(reading)
    for name in _OF_ONE:
        if words[name] not in (None, []):
            raise FieldError(Option(name), "a map has many places", expected="a map without it")
    day = datetime.timedelta(days=1)
    words["start"] = str(start - day) if start is not None else None
    words["end"] = str(end + day) if end is not None else None
    return options_from({name: value for name, value in words.items() if value is not None})


def _there(path: Path) -> Path:
    if not path.exists():
        raise FileError(str(path), "there is no such file or folder")
    return path.resolve()


def _tell() -> Callable[[int, int, float], None]:
    """Tell on stderr how far it is: on a terminal at every part, else every half minute."""
    shown, last = sys.stderr.isatty(), [time.monotonic()]

    def tell(done: int, chunks: int, left: float) -> None:
        if left != left:  # at the beginning
            if done:
                click.echo(f"Carrying on: {done} of {chunks} parts were done before.", err=True)
            return
        text = f"{done} of {chunks} parts done" + (f", {_time(left)} left" if left else "")
        if shown:
            click.echo(f"\r{text.ljust(48)}", err=True, nl=done == chunks)
        elif done == chunks or time.monotonic() - last[0] > _QUIET:
            click.echo(text, err=True)
            last[0] = time.monotonic()

    return tell


def _time(seconds: float) -> str:
    """A rough time: 40 s, 12 min, 3.5 h."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
