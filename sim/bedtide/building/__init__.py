"""Building a bed: what to check, cut and buy, what it weighs and costs."""

from bedtide.building.sheet import Build, build
from bedtide.building.take_off import Cutting

__all__ = ["Build", "Cutting", "build"]
