"""The bed and the weather that a command was given, or the built-in ones."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bedtide.errors import FieldError

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed

__all__ = ["given_bed", "given_weather"]


def given_bed(bed_file: Path | None) -> Bed:
    """Bed of the file, or the built-in example where there is none."""
    from bedtide.bed import example_bed, read_bed

    return example_bed() if bed_file is None else read_bed(bed_file)


def given_weather(
    bed_file: Path | None, weather_file: Path | None, bed: Bed, reading: Mapping[str, Any]
) -> xr.Dataset:
    """Weather of the file; the built-in one where there is neither a bed nor a weather file.

    Where neither the weather file nor an option says where it was measured, the bed's site does.
    """
    from bedtide.cli.options import reading_words
    from bedtide.tables import sample_weather
    from bedtide.weather import read_weather

    words = reading_words(reading)
    if weather_file is None:
        if bed_file is not None:
            raise FieldError(
                "weather",
                f"{bed_file} was given, but no weather file",
                expected=f"bedtide season {bed_file} WEATHER.csv",
                hint="bedtide new FOLDER  writes a sample weather file to try with",
            )
        weather_file = sample_weather()
    for name in ("latitude", "elevation"):
        if words[name] is None:
            words[name] = getattr(bed.site, name)
    return read_weather(weather_file, **words)
