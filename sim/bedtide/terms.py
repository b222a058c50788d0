"""The words of the field as data: every variable of a result, with unit, names and sign.

Dataset attributes and the glossary page in docs/ are made from this table.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["TERMS", "Term", "attributes"]


@dataclass(frozen=True)
class Term:
    """One quantity.

    Attributes
    ----------
    name : str
        Variable name in a Dataset.
    unit : str
        UDUNITS text; ``1`` for a share.
    long_name : str
        What a figure or a table calls it.
    sentence : str
        What it means, with its sign where it has one.
    symbol : str
        In the equations of docs/; empty where there is none.
    standard_name : str
        CF standard name; empty where there is none.
    cell_methods : str
        CF cell methods: ``time: sum`` over the day, ``time: point`` at its end.
    """

    name: str
    unit: str
    long_name: str
    sentence: str
    symbol: str = ""
    standard_name: str = ""
    cell_methods: str = ""


_SUM = "time: sum"
_MEAN = "time: mean"
_END = "time: point"

_ALL = (
    # weather
    Term(
        "tmax",
        "degC",
        "highest temperature",
        "Highest air temperature of the day.",
        "Tmax",
        "air_temperature",
        "time: maximum",
    ),
    Term(
        "tmin",
        "degC",
        "lowest temperature",
        "Lowest air temperature of the day.",
        "Tmin",
        "air_temperature",
        "time: minimum",
    ),
    Term(
        "vapour_pressure",
        "kPa",
        "vapour pressure",
        "Mean actual vapour pressure of the air.",
        "ea",
        "water_vapor_partial_pressure_in_air",
        _MEAN,
    ),
    Term(
        "rh_min",
        "%",
        "lowest relative humidity",
        "Lowest relative humidity of the day.",
        "RHmin",
        "relative_humidity",
        "time: minimum",
    ),
    Term(
        "wind_speed",
        "m s-1",
        "wind speed at 2 m",
        "Mean wind speed 2 m above the ground.",
        "u2",
        "wind_speed",
        _MEAN,
    ),
    Term(
        "solar_radiation",
        "MJ m-2 d-1",
        "solar radiation",
        "Solar radiation reaching level ground.",
        "Rs",
        "surface_downwelling_shortwave_flux_in_air",
        _MEAN,
    ),
    Term("rain", "m d-1", "rain", "Rain on open ground.", "P", "lwe_precipitation_rate", _SUM),
    Term(
        "rain_hours",
        "1",
        "hours of the rain",
        "Share of each hour in the rain of the day; all zero on a day measured dry.",
    ),
    Term("hour", "h", "hour", "Hour of the day by its beginning, 0 to 23."),
    Term(
        "et0",
        "m d-1",
        "reference evapotranspiration",
        "Evapotranspiration of the FAO-56 grass reference.",
        "ET0",
        "",
        _SUM,
    ),
    # crop
    Term(
        "kcb",
        "1",
        "basal crop coefficient",
        "Transpiration of the plants over reference evapotranspiration, water not lacking.",
        "Kcb",
    ),
    Term(
        "kc_max",
        "1",
        "upper limit of the crop coefficient",
        "Largest evapotranspiration over reference evapotranspiration.",
        "Kcmax",
    ),
    Term("cover", "1", "ground covered by leaves", "Share of the bed that leaves shade.", "fc"),
    Term(
        "root_depth",
        "m",
        "rooting depth",
        "Depth of the roots below the mix surface.",
        "Zr",
        "",
        _END,
    ),
    # fluxes of the day, positive as the name says
    Term(
        "rain_in",
        "m d-1",
        "rain into the bed",
        "Rain that falls through the open share of the surface, per plan area of the bed.",
        "Pin",
        "",
        _SUM,
    ),
    Term("refill", "m d-1", "refill", "Water that is put into the reservoir.", "F", "", _SUM),
    Term(
        "transpiration_potential",
        "m d-1",
        "transpiration, water not lacking",
        "What the plants would transpire with water at hand.",
        "Tp",
        "",
        _SUM,
    ),
    Term(
        "transpiration",
        "m d-1",
        "transpiration",
        "Water that the plants take.",
        "T",
        "transpiration_flux",
        _SUM,
    ),
    Term(
        "evaporation_potential",
        "m d-1",
        "evaporation, surface wet",
        "What the weather would take from the surface between the plants if it stayed wet; mulch "
        "and cover taken off.",
        "Ep",
        "",
        _SUM,
    ),
    Term(
        "evaporation",
        "m d-1",
        "evaporation from the surface",
        "Water that evaporates from the mix surface between the plants, and from water standing "
        "on it.",
        "E",
        "",
        _SUM,
    ),
    Term(
        "rise",
        "m d-1",
        "rise",
        "Water that the mix draws from the open water; negative where it drains back.",
        "X",
        "",
        _SUM,
    ),
    Term("overflow", "m d-1", "overflow", "Water that leaves by the overflow.", "O", "", _SUM),
    Term(
        "rim_spill", "m d-1", "spill over the rim", "Water that runs over the rim.", "B", "", _SUM
    ),
    # states at the end of the day
    Term(
        "open_water",
        "m",
        "open water",
        "Water standing in the open voids of the reservoir, per plan area.",
        "R",
        "",
        _END,
    ),
    Term(
        "mix_water", "m", "water in the mix", "Water held by the mix, per plan area.", "M", "", _END
    ),
    Term(
        "standing_water",
        "m",
        "water standing on the mix",
        "Water above the mix surface, below the rim.",
        "W",
        "",
        _END,
    ),
    Term(
        "water_content",
        "m3 m-3",
        "water content of the mix",
        "Water in the mix by height above the floor, per volume of mix.",
        "theta",
        "",
        _END,
    ),
    Term("level", "m", "water level", "Height of the free water above the floor.", "h", "", _END),
    Term(
        "store_share",
        "1",
        "share of the store",
        "Open water that the mix can reach, over the most of it that the overflow lets stand.",
        "",
        "",
        _END,
    ),
    Term(
        "lip_height",
        "m",
        "height of the overflow lip",
        "Height above the floor over which free water runs off; the mix surface without an "
        "overflow.",
        "zo",
        "",
        _END,
    ),
    Term(
        "capacity",
        "m",
        "capacity of the reservoir",
        "Open water that the reservoir holds up to the overflow lip.",
        "",
        "",
        _END,
    ),
    # readings of the profile
    Term(
        "uptake_factor",
        "1",
        "share of the plants' need met",
        "Transpiration over what it would be with water not lacking.",
        "a",
        "",
        _MEAN,
    ),
    Term(
        "air_root_zone",
        "m3 m-3",
        "air in the root zone",
        "Air-filled porosity, mean over the rooting depth.",
        "AFP",
        "",
        _END,
    ),
    Term(
        "air_top",
        "m3 m-3",
        "air in the top 15 cm",
        "Air-filled porosity, mean over the top 15 cm of mix.",
        "AFP15",
        "",
        _END,
    ),
    Term(
        "aerated_depth",
        "m",
        "depth with air",
        "Depth below the surface at which the air share falls under 10 %.",
        "",
        "",
        _END,
    ),
    Term(
        "surface_suction",
        "m",
        "suction at the surface",
        "Suction head of the mix at its surface.",
        "s",
        "",
        _END,
    ),
    Term(
        "days_to_refill",
        "d",
        "days until the next refill",
        "Days from this one until the watering rule asks for water; missing after the last.",
        "",
        "",
        _END,
    ),
)

# Of a bed, and its stores before the first day: name, unit, long name, sentence.
_OF_A_BED = (
    ("plan_area", "m2", "plan area", "Area of the bed inside its walls, seen from above."),
    ("dead_storage", "m", "dead storage", "Open water that nothing wicking reaches."),
    ("surface_height", "m", "height of the mix surface", "Mix surface above the floor."),
    ("crown_height", "m", "height of the reservoir", "Top of the reservoir above the floor."),
    ("start_open_water", "m", "open water before the first day", "Where the run starts from."),
    ("start_mix_water", "m", "water in the mix before the first day", "Where the run starts from."),
    ("start_standing_water", "m", "standing water before the first day", "Where the run starts."),
    ("height", "m", "height above the floor", "Centre of a layer of mix above the floor."),
    (
        "safe_steps",
        "1",
        "safe steps",
        "Pieces of a day solved coarsely where the fine way failed.",
    ),
    ("safe_step_days", "d", "days with a safe step", "Days on which one was needed."),
)

# Readings over a run or a month: name, unit, long name, sentence.
_OVER_A_RUN = (
    ("days", "d", "days", "Days that the reading covers."),
    ("refill_count", "1", "refills", "Days on which water was put in."),
    ("refill_volume", "m3", "refill water", "All water that was put in."),
    ("refill_each", "m3", "water for one refill", "Median volume of a refill."),
    ("interval_count", "1", "intervals", "Pairs of neighbouring refills in one filling season."),
    ("interval_median", "d", "days between refills", "Median of the days between two refills."),
    ("interval_p10", "d", "short interval", "10th percentile of the days between two refills."),
    ("interval_p90", "d", "long interval", "90th percentile of the days between two refills."),
    ("interval_shortest", "d", "shortest interval", "Fewest days between two refills."),
    ("interval_longest", "d", "longest interval", "Most days between two refills."),
    ("first_refill", "d", "days until the first refill", "Days from the first to its refill."),
    ("first_month", "1", "first filling month", "Month (1 to 12) that refills start; 0 for none."),
    ("last_month", "1", "last filling month", "Month (1 to 12) that refills end; 0 for none."),
    ("rain_share", "1", "share met by rain", "Rain kept over all water that was kept."),
    ("rooted_days", "d", "days with roots", "Days on which the bed holds roots."),
    ("wet_days", "d", "wet days", "Days with roots and under 10 % air in the root zone."),
    ("wet_days_top", "d", "wet days at the top", "Days under 10 % air in the top 15 cm of mix."),
    ("wet_spells", "1", "wet spells", "Runs of wet days, one day long or more."),
    ("longest_wet_spell", "d", "longest wet spell", "Days of the longest run of wet days."),
    ("wet_spell_start", "", "start of the longest wet spell", "Its first day; missing if none."),
    ("air_lowest", "m3 m-3", "least air", "Least air in the root zone at the end of a day."),
    ("excess_water", "m d", "excess water", "Daily sum of wet mix above 15 cm below the surface."),
    ("demand_days", "d", "days with demand", "Days on which the plants ask for water."),
    ("limited_days", "d", "dry days", "Days with demand and under 90 % of it met."),
    ("empty_days", "d", "dry days, reservoir empty", "Dry days with the reservoir empty."),
    ("wick_days", "d", "dry days, wick too slow", "Dry days with water left in the reservoir."),
    ("longest_dry_spell", "d", "longest dry spell", "Days of the longest run of dry days."),
    ("transpiration_ratio", "1", "share of need met", "Transpiration over its potential."),
    ("rain_total", "m", "rain", "Rain on open ground over the run."),
    ("et0_total", "m", "reference evapotranspiration", "Reference evapotranspiration, summed."),
    ("rain_in_total", "m", "rain caught", "Rain that fell into the bed over the run."),
    ("refill_total", "m", "refill", "Water put in over the run, per plan area."),
    ("transpiration_potential_total", "m", "transpiration, water not lacking", "Its sum."),
    ("transpiration_total", "m", "transpiration", "Water that the plants took over the run."),
    ("evaporation_total", "m", "evaporation", "Water that evaporated over the run."),
    ("evaporation_potential_total", "m", "evaporation, surface wet", "Its sum."),
    (
        "surface_supply",
        "1",
        "share of the surface's demand met",
        "Evaporation over what the weather asked for, on days with water left in the reservoir.",
    ),
    ("overflow_total", "m", "overflow", "Water that left by the overflow over the run."),
    ("rim_spill_total", "m", "spill over the rim", "Water that ran over the rim over the run."),
    ("open_water_change", "m", "change of open water", "Open water at the end less at the start."),
    ("mix_water_change", "m", "change of water in the mix", "Mix water, end less start."),
    ("standing_water_change", "m", "change of standing water", "Standing water, end less start."),
    ("balance_error", "m", "balance error", "Largest water made or lost since the start."),
)

# Of a rainy spell, and of the outlet in it: name, unit, long name, sentence.
_IN_A_SPELL = (
    ("date", "", "date", "Day of the record."),
    ("air", "m3 m-3", "air by height", "Air-filled porosity, mean over a slice of the mix."),
    ("face_height", "m", "height of a slice", "Faces of the slices above the floor."),
    ("first_wet", "d", "first wet day", "Days from the first of the spell to the first wet one."),
    ("recovery", "d", "days until there is air again", "From the last day of the spell."),
    ("overflow_largest", "m", "largest overflow", "Most that leaves by the overflow in a day."),
    ("spell_days", "d", "length of the spell", "Days of the spell."),
    ("spell_rain", "m", "rain of the spell", "Rain on open ground, all its days."),
    ("spell_start", "", "start of the spell", "Its first day."),
    ("spell_stated", "1", "stated spell", "1 where its rain was put into the record."),
    ("outlet_bore", "m", "bore of the outlet", "Inside diameter."),
    ("outlet_height", "m", "height of the outlet", "Lower lip above the floor."),
    ("head_in_reservoir", "m", "head in a full reservoir", "Water above the outlet's centre."),
    ("head_at_surface", "m", "head at the surface", "Water above it when the mix is full."),
    ("flow_in_reservoir", "m3 d-1", "flow with a full reservoir", "What the outlet carries."),
    ("flow_at_surface", "m3 d-1", "flow at the surface", "What it carries when the mix is full."),
    ("rain_in_reservoir", "m d-1", "rain it carries, reservoir full", "That flow as rain."),
    ("rain_at_surface", "m d-1", "rain it carries, mix full", "That flow as rain."),
)

# Measures that beds are compared by: name, unit, long name, sentence.
_COMPARED = (
    ("reservoir_volume", "m3", "reservoir", "Open water up to the overflow lip, at its highest."),
    ("dead_volume", "m3", "reservoir out of reach", "Open water that nothing wicking reaches."),
    ("mix_depth", "m", "mix above the reservoir", "From its crown to the surface of the mix."),
    ("mix_volume", "m3", "mix", "Mix that the bed takes, as it lies in it."),
    ("mix_weight", "kg", "dry mix", "Mass of the dry mix."),
    ("reservoir_weight", "kg", "pipes, crates or stone", "Mass of what forms the reservoir."),
    ("brimful_water", "kg", "water, full to the rim", "Water with all pores full, up to the rim."),
    ("brimful_weight", "kg", "weight, full to the rim", "Water, dry mix and reservoir together."),
    ("brimful_load", "kg m-2", "load, full to the rim", "That weight over the plan area."),
)

# Of a stay away: name, unit, long name, sentence. A day away runs from morning to morning.
_AWAY = (
    (
        "days_lasted",
        "d",
        "days that it lasts",
        "Days away before the first on which the plants get under nine tenths of what they ask "
        "for; infinite where longer than the days followed.",
    ),
    (
        "days_to_half",
        "d",
        "days to half",
        "Days away before the first on which they get less than half of it; infinite where "
        "longer than the days followed.",
    ),
    (
        "days_to_empty",
        "d",
        "days to empty",
        "Days away before the first that ends with the reservoir empty of all that the mix can "
        "reach; infinite where longer than the days followed.",
    ),
    (
        "days_short_anyway",
        "d",
        "days short even if filled",
        "Days away on which the plants of a bed filled every morning get under nine tenths of "
        "their need: the mix lifts too slowly.",
    ),
    (
        "water_brought",
        "m3",
        "water brought",
        "Water that a neighbour or a drum puts in during the days away.",
    ),
    (
        "days_safe",
        "d",
        "days safe",
        "Days that it lasts in nine of ten cases, whole days rounded down; infinite where longer "
        "than the days followed.",
    ),
    (
        "days_safe_low",
        "d",
        "days safe, low",
        "Least of the days safe over the set of doubtful beds.",
    ),
    ("days_safe_high", "d", "days safe, high", "Most of the days safe over that set."),
    (
        "days_middle",
        "d",
        "days, middle case",
        "Days that it lasts in half of the cases, whole days rounded down; infinite where longer "
        "than the days followed.",
    ),
    ("plantings_standing", "1", "plantings", "Plantings that stand in the bed on that day."),
    ("case_count", "1", "cases", "Cases that were run."),
    ("cases_lasting", "1", "cases that last", "Cases that last all of the days away."),
    ("visit_day", "d", "day of the visit", "Days away before the visit that does most good."),
    ("visit_day_first", "d", "first day as good", "First day on which a visit is as good."),
    ("visit_day_last", "d", "last day as good", "Last day on which a visit is as good."),
    (
        "lasting_share",
        "1",
        "chance of lasting",
        "Share of the cases that last this many days, held within what the number of years can "
        "speak of.",
    ),
)

TERMS: dict[str, Term] = {
    term.name: term
    for term in (
        *_ALL,
        *(Term(*row) for row in (*_OF_A_BED, *_OVER_A_RUN, *_COMPARED, *_IN_A_SPELL, *_AWAY)),
    )
}


def attributes(name: str) -> dict[str, str]:
    """Attributes of a Dataset variable, from the glossary.

    Parameters
    ----------
    name : str
        Variable name.

    Returns
    -------
    dict of str
        ``long_name``, ``comment`` and, where they exist, ``units`` (a date has none),
        ``standard_name`` and ``cell_methods``.

    Raises
    ------
    KeyError
        If the glossary has no such name: a bug.
    """
    term = TERMS[name]
    found = {"long_name": term.long_name, "comment": term.sentence}
    if term.unit:
        found["units"] = term.unit
    if term.standard_name:
        found["standard_name"] = term.standard_name
    if term.cell_methods:
        found["cell_methods"] = term.cell_methods
    return found
