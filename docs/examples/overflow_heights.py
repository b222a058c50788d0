"""How does the height of the overflow change a season?  One bed, three outlets."""

import tomllib

from bedtide import dryness, read_weather, refills, run_season, sample_weather, wetness
from bedtide.bed import bed_from_mapping, example_text, with_value

weather = read_weather(sample_weather(), start="2023-01-01", end="2023-12-31")
description = tomllib.loads(example_text())

for height in ("5 cm", "7 cm", "9 cm"):
    bed = bed_from_mapping(with_value(description, "overflow.height", height), where="example")
    season = run_season(bed, weather)
    fills, wet, dry = refills(season), wetness(season), dryness(season)
    print(
        f"overflow at {height}: {fills.refill_count:.0f} fills, {wet.wet_days:.0f} wet days, "
        f"{dry.limited_days:.0f} dry days, {1000 * season.overflow.sum():.0f} mm overflowed"
    )
