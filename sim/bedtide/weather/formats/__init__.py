"""One module for each format of weather file."""

from bedtide.weather.formats.known import FORMATS, Format

__all__ = ["FORMATS", "Format"]
