"""Building a bed: what to check, cut and buy, what it weighs and costs."""
