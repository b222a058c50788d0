"""What is drawn, the beds that this one might be, and the ranges that they give."""

import datetime
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from bedtide.answers.season.summary import season_ranges
from bedtide.balance import run_many, run_season
from bedtide.crop import crop_days, crops
from bedtide.errors import RangeError
from bedtide.many import drawn_beds, drawn_demand, near, priors, ranges_of
from bedtide.many.doubt import DRAWS, Drawn, drawn_shares, range_of
from bedtide.many.leaving import CALENDAR_DRAWS, away_calendar
from bedtide.many.stay import away, away_ranges
from bedtide.readings import dryness, refills
from bedtide.tables import sources
from helpers.beds import bed_with, described
from helpers.plain_weather import plain_weather

INF, NAN = np.inf, np.nan
NAMES = (
    "exposure", "crop coefficients", "stage lengths", "planting dates", "rain caught",
    "retention", "conductivity", "dry conductivity", "surface supply", "mulch",
)  # fmt: skip


# --- what is drawn ----------------------------------------------------------------------------


def test_each_prior_says_where_it_is_from():
    assert tuple(priors()) == NAMES
    for name, prior in priors().items():
        assert prior.standing == "judgement" or prior.sources, name
        assert set(prior.sources) <= set(sources()), name
        assert prior.note, name
        if not math.isnan(prior.low):
            middle = 0.0 if name == "planting dates" else 1.0
            assert (prior.low - middle) * (prior.high - middle) < 0, name


def test_every_part_of_every_prior_is_drawn_once():
    shares = drawn_shares()
    assert shares.shape == (64, 10) == (DRAWS, len(priors()))
    for at, name in enumerate(priors()):
        if name != "conductivity":  # drawn along with retention
            parts = np.floor(shares[:, at] * 64).astype(int)
            assert sorted(parts) == list(range(64)), name


def test_a_mix_that_holds_more_conducts_less_and_all_else_is_independent():
    ranks = pd.DataFrame(drawn_shares(4096), columns=NAMES).corr(method="spearman")
    # of two normal scores that correlate by -0.6 the ranks do by 6/pi asin(-0.6/2) = -0.582
    assert ranks.loc["conductivity", "retention"] == pytest.approx(-0.582, abs=0.03)
    off = ranks.to_numpy()[np.triu_indices(10, 1)]
    assert (np.abs(off) > 0.08).sum() == 1


def test_the_sets_are_the_same_in_every_run():
    first = drawn_shares().copy()
    drawn_shares.cache_clear()
    np.testing.assert_array_equal(drawn_shares(), first)
    with pytest.raises(ValueError, match="read-only"):
        drawn_shares()[0] = 0.5


# --- the beds that this one might be ----------------------------------------------------------


def drawn_at(monkeypatch, bed, **shares: float) -> Drawn:
    """The bed with one set: things at these shares, the others in the middle."""
    row = [shares.get(name.replace(" ", "_"), 0.5) for name in NAMES]
    monkeypatch.setattr("bedtide.many.doubt.drawn_shares", lambda count: np.array([row]))
    return drawn_beds(bed)


def test_in_the_middle_a_bed_is_the_one_described(monkeypatch):
    bed = bed_with({"surface.mulch_share": "60 %"})
    drawn = drawn_at(monkeypatch, bed)
    same = drawn.beds[1]
    assert drawn.beds[0] == bed
    assert same.plantings[0].stages == bed.plantings[0].crop.stages
    assert replace(same, plantings=bed.plantings) == bed
    assert same.plantings[0].crop == bed.plantings[0].crop
    assert drawn.rain.tolist() == drawn.drying.tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    ("name", "read", "low", "high"),
    [
        ("exposure", lambda b: b.site.exposure, 0.88, 1.375),
        ("crop_coefficients", lambda b: b.plantings[0].crop.kcb_mid, 0.88, 1.375),
        ("crop_coefficients", lambda b: b.plantings[0].crop.kcb_end, 0.56, 0.875),
        # tomato: 30, 70, 115 and 145 days from planting, times 0.8 and 1.25
        ("stage_lengths", lambda b: b.plantings[0].stages, (24, 32, 36, 24), (38, 50, 56, 37)),
        ("planting_dates", lambda b: b.plantings[0].planted, (4, 26), (5, 24)),
        # potting mix above, peat below: their published bounds
        ("retention", lambda b: (b.top_mix.alpha, b.wick_mix.alpha), (21.67, 8.62), (11.61, 5.46)),
        ("conductivity", lambda b: (b.top_mix.k_s, b.wick_mix.k_s), (1.0, 10.0), (25.0, 80.0)),
        ("dry_conductivity", lambda b: b.top_mix.l, 0.5, -2.0),
        ("surface_supply", lambda b: b.top_mix.wetting, 1.4 * 1.43, 1.4 * 0.70),
    ],
)
def test_the_ends_of_each_thing(monkeypatch, name, read, low, high):
    bed = bed_with({"site.exposure": 1.1})
    assert bed.top_mix.name == "potting mix"
    assert bed.wick_mix.name == "peat"
    for share, end in ((0.0, low), (1.0, high)):
        found = read(drawn_at(monkeypatch, bed, **{name: share}).beds[1])
        assert found == pytest.approx(end) if not isinstance(end, tuple) else True
        np.testing.assert_allclose(np.ravel(found), np.ravel(end))


def test_stages_end_on_the_nearest_day_after_planting(monkeypatch):
    """10, 20, 30 and 40 days times 1.25 are 12.5, 25, 37.5 and 50, halves to the even day."""
    bed = bed_with({"planting.0.stages": ["10 days"] * 4})
    drawn = drawn_at(monkeypatch, bed, stage_lengths=1.0)
    assert drawn.beds[1].plantings[0].stages == (12, 13, 13, 12)


def test_half_way_to_an_end_is_its_root_or_for_exponents_its_half(monkeypatch):
    bed = bed_with({"site.exposure": 1.0})
    quarter = drawn_at(monkeypatch, bed, exposure=0.75, conductivity=0.25, dry_conductivity=0.75)
    assert quarter.beds[1].site.exposure == pytest.approx(math.sqrt(1.25))
    assert quarter.beds[1].top_mix.k_s == pytest.approx(math.sqrt(5.0 * 1.0))
    assert quarter.beds[1].top_mix.l == pytest.approx(-1.5)
    coarser = drawn_at(monkeypatch, bed, retention=0.25).beds[1].top_mix.alpha
    assert coarser == pytest.approx(math.sqrt(bed.top_mix.alpha * 21.67), rel=1e-3)


def test_a_mix_without_published_bounds_has_those_of_potting_mix(monkeypatch):
    mix = bed_with({"mix.top": {"medium": "potting mix"}}).top_mix
    bare = replace(mix, alpha_low=None, alpha_high=None, alpha=10.0)
    bed = replace(bed_with(), top_mix=bare)
    assert drawn_at(monkeypatch, bed, retention=0.0).beds[1].top_mix.alpha == pytest.approx(15.0)
    assert drawn_at(monkeypatch, bed, retention=1.0).beds[1].top_mix.alpha == pytest.approx(8.0)


@pytest.mark.parametrize(
    "stated", [{"wetting": 4.0}, {"wetting": 0.5}, {"alpha": "990 1/m"}, {"alpha": "0.0101 1/m"},
               {"k_s": "9990 m/d"}, {"l": -2.0}, {"l": 9.9}],
)  # fmt: skip
def test_whatever_a_mix_may_state_can_be_drawn(stated):
    bed = bed_with({"mix.top": {"medium": "potting mix", **stated}})
    drawn = {one.top_mix for one in drawn_beds(bed).beds}  # a Mix refuses what none can be
    assert len(drawn) == 65


@pytest.mark.parametrize("crop", crops())
def test_every_crop_can_be_drawn_on_any_day_of_the_year(crop):
    for day in ("01-03", "02-28", "12-28"):
        sown = [{"crop": crop, "planted": day, "area_share": "100 %"}]
        assert len(set(drawn_beds(bed_with({"planting": sown})).beds)) == 65


def test_rain_and_mulch_are_factors_on_what_the_days_bring(monkeypatch):
    weather = plain_weather("2021-05-01", 60, rain_mm={"2021-05-10": 20.0})
    bed = bed_with({"surface.mulch_share": "80 %"})
    drawn = drawn_at(monkeypatch, bed, rain_caught=1.0, mulch=1.0)
    plain, other = drawn_demand(drawn, weather)
    assert other.rain_in.sum() == pytest.approx(0.020 * 1.2)
    # of what bare mix would lose, 80 % mulch keeps 0.5 x 0.8 typically, and here 1.4 times that
    np.testing.assert_allclose(other.energy / 0.44, plain.energy / 0.60)
    np.testing.assert_array_equal(other.uptake, plain.uptake)


def test_exposure_stays_where_the_crop_model_takes_it(monkeypatch):
    bed = bed_with({"site.exposure": 1.4})
    assert drawn_at(monkeypatch, bed, exposure=1.0).beds[1].site.exposure == 1.5


def test_crops_that_follow_one_another_never_meet():
    after = [
        {"crop": "lettuce", "planted": "03-20", "area_share": "100 %"},  # 75 days: to 3 June
        {"crop": "green bean", "planted": "06-03", "area_share": "100 %"},
        {"crop": "spinach", "planted": "09-20", "removed": "12-20", "area_share": "100 %"},
    ]
    bed = bed_with({"planting": after})
    days = np.datetime64("2019-01-01") + np.arange(1461)
    for drawn in drawn_beds(bed).beds:
        crop_days(drawn.plantings, days, wind_speed=np.full(1461, 2.0), rh_min=np.full(1461, 45.0))
    longest = [
        d.plantings[0] for d in drawn_beds(bed).beds if sum(d.plantings[0].stages or ()) > 85
    ]
    assert longest
    assert all(p.removed is not None for p in longest)


def test_of_two_crops_on_one_place_the_first_is_cleared_when_it_was_to_be(monkeypatch):
    """Lettuce of 75 days from 20 March is over on 3 June, however long its stages are drawn."""
    after = [
        {"crop": "lettuce", "planted": "03-20", "area_share": "100 %"},
        {"crop": "green bean", "planted": "06-03", "area_share": "70 %"},
    ]
    drawn = drawn_at(monkeypatch, bed_with({"planting": after}), stage_lengths=1.0)
    assert drawn.beds[1].plantings[0].removed == (6, 3)
    after[0]["area_share"] = "30 %"  # side by side they are in nobody's way
    drawn = drawn_at(monkeypatch, bed_with({"planting": after}), stage_lengths=1.0)
    assert drawn.beds[1].plantings[0].removed is None


def test_a_perennial_stays_one_beside_crops_that_follow_one_another():
    found = [
        {"crop": "strawberry", "planted": "03-15", "area_share": "30 %"},
        {"crop": "lettuce", "planted": "04-01", "area_share": "70 %"},
        {"crop": "green bean", "planted": "06-20", "area_share": "70 %"},
    ]
    for drawn in drawn_beds(bed_with({"planting": found})).beds:
        assert [p.perennial for p in drawn.plantings] == [True, False, False]


def test_a_crop_of_a_whole_year_is_never_longer(monkeypatch):
    stages = [f"{days} days" for days in (60, 100, 100, 100)]
    bed = bed_with({"planting.0.stages": stages, "planting.0.planted": "03-01"})
    found = drawn_at(monkeypatch, bed, stage_lengths=1.0).beds[1].plantings[0].stages
    assert sum(found) == 365


# --- ranges -----------------------------------------------------------------------------------


def test_the_range_holds_eight_in_ten_of_the_sets():
    draw = np.random.default_rng(3).normal(50.0, 10.0, 65)
    doubt = range_of(draw)
    assert (doubt.typical, doubt.runs, doubt.failing) == (draw[0], 64, 0)
    assert doubt.low == pytest.approx(np.quantile(draw[1:], 0.1, method="weibull"))
    assert doubt.high == pytest.approx(np.quantile(draw[1:], 0.9, method="weibull"))
    inside = (draw[1:] >= doubt.low) & (draw[1:] <= doubt.high)
    assert 0.77 <= inside.mean() <= 0.83


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_what_moves_it_most_is_named_with_its_rank_correlation(name, sign):
    shares = drawn_shares()
    values = np.append([0.0], sign * np.exp(3.0 * shares[:, NAMES.index(name)]))
    doubt = range_of(values)
    assert doubt.matters == name
    ranks = pd.DataFrame(shares, columns=NAMES).rank()
    own = pd.Series(values[1:]).rank()
    for other in NAMES:
        assert doubt.influence[other] == pytest.approx(ranks[other].corr(own), abs=5e-4)
    assert doubt.influence[name] == pytest.approx(sign)


def test_sets_with_which_the_bed_does_not_work_are_left_out_and_counted():
    values = np.append([50.0], np.arange(64.0))
    works = np.append([True], np.arange(64) >= 10)
    doubt = range_of(values, works=works)
    assert doubt.failing == 10
    assert doubt.low == pytest.approx(np.quantile(np.arange(10.0, 64.0), 0.1, method="weibull"))
    # where the bed itself does not work, there is nothing to leave out
    works[0] = False
    assert range_of(values, works=works).failing == 0


def test_more_than_was_looked_at_is_the_high_end():
    values = np.append([30.0], np.where(np.arange(64) < 50, np.arange(64.0), INF))
    doubt = range_of(values)
    assert doubt.high is None
    assert doubt.low == pytest.approx(np.quantile(np.arange(64.0), 0.1, method="weibull"))
    assert range_of(np.full(65, INF)).matters is None


def test_what_has_no_value_is_left_out():
    values = np.append([4.0], np.where(np.arange(64) < 32, NAN, np.arange(64.0)))
    assert range_of(values).low == pytest.approx(
        np.quantile(np.arange(32.0, 64.0), 0.1, method="weibull")
    )
    assert range_of(np.full(65, NAN)).low is None
    assert ranges_of({"days": np.full(65, NAN)})["days"].matters is None


def test_values_that_are_no_set_are_refused():
    with pytest.raises(RangeError, match="1 values are no set"):
        range_of([1.0])


def test_three_things_are_told_that_move_it_more_than_chance():
    influence = {"mulch": 0.31, "exposure": -0.5, "retention": 0.29, "rain": 0.4, "stages": -0.35}
    doubt = replace(range_of([5.0, 4.0, 6.0]), influence=influence)
    assert doubt.most == ["exposure", "rain", "stages"]
    assert replace(doubt, influence={"mulch": -0.3, "rain": 0.29}).most == ["mulch"]


def test_of_three_sets_something_may_matter():
    assert range_of([5.0, 4.0, 6.0, 7.0]).matters is not None


def test_of_two_sets_nothing_is_said_to_matter():
    """Two values always go together with everything, this way or that."""
    doubt = range_of([5.0, 4.0, 6.0])
    assert doubt.matters is None
    assert set(doubt.influence.values()) == {0.0}
    assert (doubt.low, doubt.high) == (4.0, 6.0)


# --- ranges of answers ------------------------------------------------------------------------


FIRST, LAST = datetime.date(2021, 4, 1), datetime.date(2021, 10, 31)


def test_all_sets_in_one_call_are_the_runs_themselves():
    """Each bed by itself, its rain in the record; mulch, which a record can't hold, is none."""
    weather = plain_weather("2021-01-01", 365, rain_mm={"2021-06-10": 30.0, "2021-07-20": 25.0})
    bed = bed_with({"planting.0.area_share": "100 %"})
    found = season_ranges(bed, weather, FIRST, LAST)
    litres, fills, works = [], [], []
    drawn = drawn_beds(bed)
    for one, factor in zip(drawn.beds, drawn.rain, strict=True):
        wetter = weather.copy()
        wetter["rain"] = weather["rain"] * factor
        season = run_season(one, wetter, start=FIRST, end=LAST)
        read, dry = refills(season), dryness(season)
        litres.append(float(read["refill_volume"]) * 1e3)
        fills.append(float(read["refill_count"]))
        works.append(float(dry["wick_days"]) <= 0.1 * float(dry["demand_days"]))
    kept = np.array(works[1:])
    assert 0 < kept.sum() < 64
    for name, values in (("refill_litres", litres), ("refills", fills)):
        own = np.array(values[1:])[kept]
        assert found[name].typical == pytest.approx(values[0], rel=1e-12)
        assert found[name].low == pytest.approx(np.quantile(own, 0.1, method="weibull"))
        assert found[name].high == pytest.approx(np.quantile(own, 0.9, method="weibull"))
        assert found[name].failing == 64 - kept.sum()
    assert set(found) == {
        "days_between_refills_median", "refills", "refill_litres", "wet_days", "dry_days",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "sign"),
    [("exposure", 1), ("crop_coefficients", 1), ("surface_supply", 1), ("rain_caught", -1),
     ("mulch", -1)],
)  # fmt: skip
def test_what_is_asked_for_moves_one_way_with_each_thing(monkeypatch, name, sign):
    rain = {f"2021-{month:02}-{day:02}": 9.0 for month in range(4, 11) for day in (1, 8, 15, 22)}
    weather = plain_weather("2021-01-01", 365, rain_mm=rain)
    bed = bed_with({"planting.0.area_share": "100 %", "surface.mulch_share": "60 %"})
    poured = []
    for share in (0.0, 0.3, 0.6, 1.0):
        drawn = drawn_at(monkeypatch, bed, **{name: share})
        run = run_many(
            drawn.beds, weather, [FIRST], days=214, demand=drawn_demand(drawn, weather)
        )  # fmt: skip
        taken = run.series.transpiration + run.series.evaporation - run.rain + run.series.overflow
        poured.append(float(taken[:, 1].sum()))
    assert (np.diff(poured) * sign > 0.0).all()


def test_only_the_days_near_a_run_are_read():
    weather = plain_weather("2015-01-01", 3000)
    assert near(weather, FIRST, LAST).sizes["time"] == 214 + 2 * 400


def test_ranges_of_a_stay_are_those_of_the_stays_themselves():
    weather = plain_weather("2021-01-01", 730)
    bed = bed_with({"planting.0.area_share": "100 %"})
    day = datetime.date(2027, 7, 10)
    ranges = away_ranges(bed, weather, day, days=8)
    # in weather without rain and for a bed without mulch a drawn bed is all of a set
    runs, works = [], []
    for case in drawn_beds(bed).beds:
        stay = away(case, weather, day, days=8, measures=[]).isel(measure=0)
        runs.append(
            {
                "days_safe": float(stay["days_safe"]),
                "days_middle": float(stay["days_middle"]),
                "days_to_empty": float(np.median(stay["days_to_empty"])),
                "cases_lasting": int((stay["days_lasted"] >= 8).sum()),
            }
        )
        works.append(float((stay["days_short_anyway"] > 0).mean()) <= 0.1)
    for name, found in ranges.items():
        values = np.array([each[name] for each in runs])
        kept = values[1:][works[1:]]
        assert 0 < kept.size < 64
        assert found.typical == values[0]
        assert found.low == pytest.approx(np.quantile(kept, 0.1, method="weibull"))
        assert found.high == pytest.approx(np.quantile(kept, 0.9, method="weibull"))
        assert found.failing == 64 - kept.size
    assert set(ranges) == set(runs[0])
    assert ranges["days_safe"].low < ranges["days_safe"].typical < ranges["days_safe"].high


@pytest.mark.slow
def test_a_calendar_with_a_range_is_that_of_the_beds_of_the_set():
    weather = plain_weather("2021-01-01", 500)
    bed = bed_with({"planting.0.area_share": "100 %"})
    ranged = away_calendar(bed, weather, draws=CALENDAR_DRAWS)
    set_of, works = [], []
    for case in drawn_beds(bed, 16).beds[1:]:
        calendar = away_calendar(case, weather)
        set_of.append(calendar["days_safe"].values)
        planted = calendar["plantings_standing"].values > 0
        anyway = calendar["days_short_anyway"].values[planted]
        works.append((anyway[~np.isnan(anyway)] > 0).mean() <= 0.1)
    kept = np.array(set_of)[works]
    assert 3 < len(kept) <= 16
    finite = np.isfinite(kept).all(axis=0)  # dates from which no set lasts longer than is followed
    assert finite.sum() > 5
    for name, share in (("days_safe_low", 0.1), ("days_safe_high", 0.9)):
        ends = np.quantile(kept[:, finite], share, axis=0, method="weibull")
        np.testing.assert_allclose(ranged[name].values[finite], ends)


# --- what the range holds ---------------------------------------------------------------------

PLAIN_PRIORS = {  # written here again: low end, high end; of the mixes of this bed from their rows
    "exposure": (0.80, 1.25), "kcb": (0.80, 1.25), "stages": (0.80, 1.25), "days": (-14.0, 14.0),
    "rain": (0.90, 1.20), "mulch": (0.40, 1.40), "wetting": (1.43, 0.70),
}  # fmt: skip


def plain_draw(draw, mapping: dict) -> tuple:
    """A bed of plain random values, its rain factor; by the description, none of our code."""

    def value(low: float, middle: float, high: float, share: float) -> float:
        part, end = 2.0 * abs(share - 0.5), high if share > 0.5 else low
        return middle * (end / middle) ** part

    factor = {
        name: value(low, 1.0, high, draw.random())
        for name, (low, high) in PLAIN_PRIORS.items()
        if name != "days"
    }
    days = round(draw.uniform(*PLAIN_PRIORS["days"]))
    planted = datetime.date(2021, 5, 10) + datetime.timedelta(days=days)
    stages = [max(1, round(days * factor["stages"])) for days in (30, 40, 45, 30)]
    first, second = draw.multivariate_normal([0, 0], [[1, -0.6], [-0.6, 1]])
    hold, conduct = (0.5 * (1.0 + math.erf(z / math.sqrt(2.0))) for z in (first, second))
    exponent = draw.uniform(-2.0, 0.0)
    rows = {  # alpha that drains, middle, holds; K_s low, middle, high
        "wick": ((8.62, 6.63, 5.46), (5.0, 20.0, 25.0)),
        "top": ((21.67, 14.44, 11.61), (1.0, 5.0, 25.0)),
    }
    mapping["mix"] = {
        name: mapping["mix"][name]
        | {
            "alpha": f"{value(*alpha, hold)} 1/m",
            "k_s": f"{value(*k_s, conduct)} m/d",
            # l from 0.5 through -1 to -2, evenly in each half
            "l": exponent if exponent < -1.0 else -1.0 + 1.5 * (exponent + 1.0),
            "wetting": 1.4 * factor["wetting"],
        }
        for name, (alpha, k_s) in rows.items()
    }
    # half of what full mulch keeps back is what the description means by its share
    mapping["surface"] = {"mulch_share": 0.5 * factor["mulch"]}
    mapping["site"] = {"exposure": factor["exposure"]}
    mapping["planting"] = [
        {
            "crop": "tomato",
            "planted": f"{planted:%m-%d}",
            "area_share": "100 %",
            "stages": [f"{length} days" for length in stages],
        }
    ]
    return mapping, factor["rain"], factor["kcb"]


@pytest.mark.slow
def test_the_range_holds_eight_in_ten_of_plain_random_draws():
    """250 of them, run one by one: more than 70 and less than 90 % lie in the range of 64 sets."""
    from bedtide.bed import bed_from_mapping

    rain = {f"2021-{month:02}-{day:02}": 12.0 for month in range(4, 11) for day in (3, 12, 24)}
    weather = plain_weather("2021-01-01", 365, rain_mm=rain, et0_mm=4.0)
    site = {"site.exposure": 1.0, "surface.mulch_share": "50 %", "planting.0.area_share": "100 %"}
    ranges = season_ranges(bed_with(site), weather, FIRST, LAST)
    draw = np.random.default_rng(11)
    litres, fills = [], []
    for _ in range(250):
        mapping, wetter, kcb = plain_draw(draw, described())
        bed = bed_from_mapping(mapping, where="bed.toml")
        crop = bed.plantings[0].crop
        crop = replace(crop, kcb_mid=crop.kcb_mid * kcb, kcb_end=crop.kcb_end * kcb)
        bed = replace(bed, plantings=(replace(bed.plantings[0], crop=crop),))
        own = weather.copy()
        own["rain"] = weather["rain"] * wetter
        season = run_season(bed, own, start=FIRST, end=LAST)
        dry = dryness(season)
        if float(dry["wick_days"]) <= 0.1 * float(dry["demand_days"]):
            litres.append(float(refills(season)["refill_volume"]) * 1e3)
            fills.append(float(refills(season)["refill_count"]))
    assert 125 < len(litres) <= 250
    for name, values in (("refill_litres", litres), ("refills", fills)):
        low, high = ranges[name].low, ranges[name].high
        own = np.array(values)
        within, at_end = (own > low) & (own < high), (own == low) | (own == high)
        inside = within.mean() + 0.5 * at_end.mean()  # fills are whole, so many lie on an end
        assert 0.70 < inside < 0.90, (name, inside, low, high)
