"""Building a bed: what to check, cut and buy, what it weighs and costs."""

from bedtide.building.sawing import Cutting
from bedtide.building.sheet import Build, build
