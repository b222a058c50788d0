"""What a run says: refills, wetness, dryness, the water account, and all of them by month."""

from bedtide.readings.water import (
    all_readings,
    by_month,
    by_month_of_year,
    days_to_refill,
    refills,
    water_account,
)
from bedtide.readings.wet_and_dry import (
    EMPTY,
    NEED_LIMIT,
    dryness,
    limited_days,
    surface_supply,
    wet_days,
    wetness,
)
