"""How different are the years?  Thirty seasons of one bed, stepped together."""

import datetime

import numpy as np

from bedtide import example_bed, read_weather, run_many, sample_weather
from bedtide.bed import plan_area

bed, weather = example_bed(), read_weather(sample_weather())
starts = [datetime.date(year, 4, 1) for year in range(1995, 2025)]
run = run_many([bed], weather, starts, days=183)

litres = run.series.refill.sum(axis=0) * plan_area(bed) * 1000  # one for each year
for share in (0.1, 0.5, 0.9):
    most = np.quantile(litres, share, method="weibull")  # plotting position i / (n + 1)
    print(f"in {share:.0%} of the years filling takes no more than {most:,.0f} L")
print(f"most in {starts[int(litres.argmax())].year}: {litres.max():,.0f} L")
