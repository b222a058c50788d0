"""The layouts that can be read, each recognised by its content alone."""

from bedtide.weather.formats import australia, europe, ghcn, north_america, plain
from bedtide.weather.formats.netcdf import read_netcdf

FORMATS = (
    *north_america.FORMATS,
    *ghcn.FORMATS,
    *australia.FORMATS,
    *europe.FORMATS,
    *plain.FORMATS,
)
"""In the order in which they are tried; a table of your own comes last."""

__all__ = ["FORMATS", "plain", "read_netcdf"]
