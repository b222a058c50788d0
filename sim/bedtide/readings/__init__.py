"""What a run says: refills, wetness, dryness, the water account, and all of them by month."""

from bedtide.readings.account import water_account
from bedtide.readings.arrays import grouped_quantile, longest_run
from bedtide.readings.dryness import EMPTY, NEED_LIMIT, dryness, limited_days
from bedtide.readings.months import by_month, by_month_of_year
from bedtide.readings.refill import days_to_refill, refill_log, refills
from bedtide.readings.surface import surface_supply
from bedtide.readings.wetness import wet_days, wetness

__all__ = [
    "EMPTY",
    "NEED_LIMIT",
    "by_month",
    "by_month_of_year",
    "days_to_refill",
    "dryness",
    "grouped_quantile",
    "limited_days",
    "longest_run",
    "refill_log",
    "refills",
    "surface_supply",
    "water_account",
    "wet_days",
    "wetness",
]
