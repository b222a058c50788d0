"""The bed and the weather that a command was given, or the built-in ones."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bedtide.errors import FieldError

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed

__all__ = ["given_bed", "given_weather", "one_or_all"]


def given_bed(bed_file: Path | None) -> Bed:
    """Bed of the file, or the built-in example where there is none."""
    from bedtide.bed import example_bed, read_bed

    return example_bed() if bed_file is None else read_bed(bed_file)


def given_weather(
    bed_file: Path | None,
    weather_files: Path | Sequence[Path] | None,
    bed: Bed,
    reading: Mapping[str, Any],
    *,
    start: datetime.date | None = None,
    end: datetime.date | None = None,
) -> xr.Dataset:
    """Weather of the files; the built-in one where there is neither a bed nor a weather file.

    Where neither the weather file nor an option says where it was measured, the bed's site does.
    Only the days from `start` to `end` are read, where these are given, and one more on each side
    for rain that belongs to a neighbouring day.
    """
    from bedtide.report.options import reading_words
    from bedtide.tables import sample_weather
    from bedtide.weather import read_weather

    words = reading_words(reading)
    if not weather_files:
        if bed_file is not None:
            raise FieldError(
                "weather",
                f"{bed_file} was given, but no weather file",
                expected=f"the bed and the weather, such as  {bed_file} WEATHER.csv",
                hint="bedtide new FOLDER  writes a sample weather file to try with",
            )
        weather_files = sample_weather()
    for name in ("latitude", "elevation"):
        if words[name] is None:
            words[name] = getattr(bed.site, name)
    day = datetime.timedelta(days=1)
    words["start"] = str(start - day) if start is not None else None
    words["end"] = str(end + day) if end is not None else None
    return read_weather(one_or_all(weather_files), **words)


def one_or_all(files: Path | Sequence[Path]) -> Path | list[Path]:
    """The file where there is one, else the list of them."""
    if isinstance(files, Path):
        return files
    return files[0] if len(files) == 1 else list(files)
