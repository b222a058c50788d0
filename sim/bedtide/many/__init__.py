"""Many beds and years: compared, left alone, in rainy spells, at many places; statistics."""

from bedtide.many.choice import Reason, choose, suited
from bedtide.many.comparison import Ranges, compare, compare_ranges
from bedtide.many.doubt import SELDOM, Range, drawn_beds, drawn_demand, near, priors, ranges_of
from bedtide.many.leaving import (
    CALENDAR_DRAWS,
    FEW_YEARS,
    FOLLOWED,
    NEVER,
    SPIN_UP,
    away_calendar,
    first_day,
    kept,
    usable,
)
from bedtide.many.measures import fitting_drum
from bedtide.many.places import BY_MONTH, Ask, no_figures, place_figures
from bedtide.many.spells import Placed, Wanted, parse_spells, place_spells, whole_record
from bedtide.many.stay import away, away_ranges
from bedtide.many.variants import (
    MOST_BEDS,
    Variant,
    parse_choices,
    varied_beds,
)
from bedtide.many.wet_spell import (
    OUTLETS,
    LeastDepth,
    least_depth,
    spell_ranges,
    wet_record,
    wet_spells,
)
from bedtide.many.years import (
    LONG_RUN,
    every_year,
    on_that_day,
    repeated,
    whole_years,
    years_of,
)
