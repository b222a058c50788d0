"""What holds for all tests: however busy the machine, no time is asserted."""

from hypothesis import settings

pytest_plugins = ["helpers.commands"]

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
