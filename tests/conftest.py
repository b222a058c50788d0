"""What holds for all tests: however busy the machine, no time is asserted."""

import os

from hypothesis import HealthCheck, settings

pytest_plugins = ["helpers.commands", "helpers.browser"]

UNTIMED = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile("same cases every time", UNTIMED, derandomize=True)
settings.register_profile("long", UNTIMED, max_examples=2000, print_blob=True)
settings.load_profile("long" if os.environ.get("BEDTIDE_LONG") == "1" else "same cases every time")

os.environ["COLUMNS"] = "80"  # the width of what is printed, whatever window the tests run in
os.environ["no_proxy"] = "127.0.0.1"  # where the services of the tests are
