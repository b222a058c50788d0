"""Physical constants and fixed thresholds, each with unit and source."""

from __future__ import annotations

from typing import Final

WATER_DENSITY: Final = 1000.0  # [kg m-3]; 998 at 20 degC, the round figure is common practice
GRAVITY: Final = 9.80665  # standard acceleration of free fall [m s-2]: 3rd CGPM, from memory

AIR_LIMIT: Final = 0.10
"""Air-filled porosity under which roots lack air [m3 m-3].

Grable & Siemer (1968), SSSA Proc. 32:180-186, from memory; Cook & Knight (2003), SSSAJ 67:20-31,
warn that no single figure holds for every soil, temperature and root.
"""
POTTING_AIR: Final = 0.13
"""Air-filled porosity that potting mixes are asked for [m3 m-3], in a drained pot and not in a bed.

Australian Standard AS 3743-2003, premium grade, read in part. Shown beside the limit, no limit.
"""
TOP_LAYER: Final = 0.15  # depth of the top layer whose air is reported as well [m]; our choice
LEAST_AIRY: Final = 0.15
"""Depth from the surface that must have air for any but the shallowest roots [m]; a judgement."""
AIRY_SHARE: Final = 0.5
"""Share of the depth that roots reach in a bed that must have air [1]; a judgement.

Roots that thin out in a straight line have three quarters of their length in the upper half.
"""
ROOM: Final = 0.20
"""Mix above the reservoir that a bed should give its roots, where another one does [m]; the least
that growers' guides name, common practice, no source."""
ALLOWANCE: Final = 2
"""Days a year of want, of air or of water, that a bed may have beyond the best of all [d]; ours."""
FAILS: Final = 0.1
"""Share of the days with roots on which they lack air or water, above which a bed fails its plants
[1]; ours."""

BALANCE_LIMIT: Final = 1e-9  # largest error in the water balance of a run [m]
BALANCE_SHARE: Final = 1e-12
"""Largest error in the water balance over all that flowed [1]: rounding, where far more than a bed
holds is poured through it."""

RAIN_HOURS: Final = (9.0 / 24.0, 15.0 / 24.0)
"""Between which rain falls evenly where its hours are not known [d]; ours, a judgement."""
YEARS: Final = (1700, 2200)  # first and last year of any date that is taken; ours
MONTH_LENGTHS: Final = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
"""Mean length of each month [d]; the calendar, every fourth February a day longer."""
