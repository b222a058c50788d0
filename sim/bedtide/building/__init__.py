"""Building a bed: what to check, cut and buy, what it weighs and costs."""

from bedtide.building.sheet import Build, build, summary_of
from bedtide.building.take_off import Cutting
from bedtide.building.trade import read_trade

__all__ = ["Build", "Cutting", "build", "read_trade", "summary_of"]
