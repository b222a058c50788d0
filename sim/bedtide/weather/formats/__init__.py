"""One module for each family of weather files."""

from bedtide.weather.formats import plain
from bedtide.weather.formats.known import FORMATS, Format
from bedtide.weather.formats.netcdf import read_netcdf

__all__ = ["FORMATS", "Format", "plain", "read_netcdf"]
