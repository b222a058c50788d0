"""What holds for all tests: however busy the machine, no time is asserted."""

import os

from hypothesis import settings

pytest_plugins = ["helpers.commands"]

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

os.environ["COLUMNS"] = "80"  # the width of what is printed, whatever window the tests run in
