"""What people may write as a number with a unit, and what is refused in one clear message."""

import re

import pytest

from bedtide import read_weather, run_season, sample_weather
from bedtide.bed import bed_from_mapping, bed_from_text, example_text
from bedtide.errors import InputError, RangeError, SeveralErrors
from bedtide.many import parse_choices, parse_spells
from bedtide.units import convert, parse

TEXT = example_text()
INCH, FOOT = 0.0254, 0.3048

# Text, unit wanted, value by the international definitions.
ACCEPTED = [
    ("42 cm", "m", 0.42),
    ("42cm", "m", 0.42),
    ("  420 mm ", "m", 0.42),
    ("0.42 metres", "m", 0.42),
    ("12,5 cm", "m", 0.125),
    ("1e-1 m", "m", 0.1),
    ("4 3/4 in", "m", 4.75 * INCH),
    ("17 1/2 in", "m", 17.5 * INCH),
    ("17-1/2 inches", "m", 17.5 * INCH),
    ('3/4"', "m", 0.75 * INCH),
    ("3/4''", "m", 0.75 * INCH),
    ("-3 1/2 in", "m", -3.5 * INCH),
    ("+4 cm", "m", 0.04),
    ("8 ft", "m", 8 * FOOT),
    ("8'", "m", 8 * FOOT),
    ("2 feet", "m", 2 * FOOT),
    ("5' 6 1/2\"", "m", 66.5 * INCH),
    ("5 ft 6 in", "m", 66 * INCH),
    ("1 yd", "m", 3 * FOOT),
    ("1 mile", "m", 1609.344),
    ("5 L/m2", "m", 0.005),
    ("120 L", "m3", 0.12),
    ("120 l", "m3", 0.12),
    ("1 litre", "m3", 1e-3),
    ("250 mL", "m3", 2.5e-4),
    ("1 hL", "m3", 0.1),
    ("2 m3", "m3", 2.0),
    ("2 m³", "m3", 2.0),
    ("2 m**3", "m3", 2.0),
    ("3 ft3", "m3", 3 * FOOT**3),
    ("3 cubic feet", "m3", 3 * FOOT**3),
    ("32 US gal", "m3", 32 * 3.785411784e-3),
    ("32 us gallons", "m3", 32 * 3.785411784e-3),
    ("10 imp gal", "m3", 0.0454609),
    ("10 imperial gallons", "m3", 0.0454609),
    ("4 quarts", "m3", 3.785411784e-3),
    ("8 pints", "m3", 3.785411784e-3),  # of the US: four quarts or eight pints make a gallon
    ("3 dL", "m3", 3e-4),
    ("14 days", "d", 14.0),
    ("1 Day", "d", 1.0),
    ("2 weeks", "d", 14.0),
    ("2 fortnights", "d", 28.0),
    ("48 hours", "d", 2.0),
    ("90 min", "d", 0.0625),
    (0.4, "1", 0.4),
    ("0.4", "1", 0.4),
    ("40 %", "1", 0.4),
    ("40%", "1", 0.4),
    ("40 percent", "1", 0.4),
    ("0.4 m3/m3", "1", 0.4),
    ("14 1/m", "1/m", 14.0),
    ("0.14 1/cm", "1/m", 14.0),
    ("0.14 cm^-1", "1/m", 14.0),
    ("250 cm/day", "m/d", 2.5),
    ("2 mm/h", "m/d", 0.048),
    ("1 in/hr", "m/d", 24 * INCH),
    ("1e-5 m/s", "m/d", 0.864),
    ("120 kg/m3", "kg/m3", 120.0),
    ("0.12 g/cm3", "kg/m3", 120.0),
    ("120 g/L", "kg/m3", 120.0),
    ("10 lb/ft3", "kg/m3", 10 * 0.45359237 / FOOT**3),
    ("160 oz/ft3", "kg/m3", 10 * 0.45359237 / FOOT**3),  # 16 to the pound
    ("0.12 t/m3", "kg/m3", 120.0),
]


@pytest.mark.parametrize(("text", "unit", "value"), ACCEPTED)
def test_what_people_write(text, unit, value):
    assert parse(text, unit, where="here") == pytest.approx(value, rel=1e-14)


# Unit of a file, unit wanted, value of 20 in it.
OF_FILES = [
    ("degC", "degC", 20.0),
    ("degrees_C", "degC", 20.0),
    ("Celsius", "degC", 20.0),
    ("K", "degC", -253.15),
    ("degF", "degC", -20.0 / 3.0),
    ("Pa", "kPa", 0.02),
    ("hPa", "kPa", 2.0),
    ("mbar", "kPa", 2.0),
    ("1", "percent", 2000.0),
    ("m s-1", "m/s", 20.0),
    ("km h-1", "m/s", 20 / 3.6),
    ("knots", "m/s", 20 * 1852 / 3600),
    ("mph", "m/s", 8.9408),
    ("kph", "m/s", 20 / 3.6),
    ("cal cm-2 d-1", "MJ/m2/day", 0.8368),  # a calorie is 4.184 J, and one on 1 cm2 a langley
    # What derived units are made of, by the definitions of the SI.
    ("Pa", "kg m-1 s-2", 20.0),
    ("J", "kg m2 s-2", 20.0),
    ("W", "kg m2 s-3", 20.0),
    ("langley", "kJ/m2", 20 * 41.84),
    ("L", "m3", 0.02),
    ("ft/s", "m/s", 6.096),
    ("W m-2", "MJ/m2/day", 1.728),
    ("MJ m-2 d-1", "MJ/m2/day", 20.0),
    ("kWh m-2 day-1", "MJ/m2/day", 72.0),
    ("J cm-2 day-1", "MJ/m2/day", 0.2),
    ("langley/day", "MJ/m2/day", 0.8368),
    ("s", "hour", 20 / 3600),
    ("kg m-2 s-1", "kg/m2/day", 20 * 86400.0),
    ("kg.m-2.s-1", "kg/m2/day", 20 * 86400.0),
    ("inch", "mm", 508.0),
]


@pytest.mark.parametrize(("given", "wanted", "value"), OF_FILES)
def test_what_files_have(given, wanted, value):
    assert convert(20.0, given, wanted) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ("", "percent"),
        ("K", "kPa"),
        ("MJ m-2", "MJ/m2/day"),
        ("degC/day", "degC"),
        ("m s-99", "m/s"),
        ("kg", "kg m"),
    ],
)
def test_a_unit_of_another_kind_is_refused(given, wanted):
    with pytest.raises(ValueError, match=r"kinds|known"):
        convert(20.0, given, wanted)


LONG = "9" * 400
# Key, what the file says, parts of the message.
REFUSED = [
    ("box.depth", '"17 in*9**9**9"', ['"17 in*9**9**9"', "does not fit here", '"42 cm"']),
    ("box.depth", '"1/0 in"', ['"1/0 in" is not a number', '"42 cm"']),
    ("box.depth", '"17 1/0 in"', ['"17 1/0 in" is not a number']),
    ("box.depth", '"5 ft 1/0 in"', ['"5 ft 1/0 in"', "does not fit here"]),
    ("box.depth", '"17 m/0"', ['"17 m/0"', "does not fit here"]),
    ("box.depth", f'"{"(" * 3000}17 in"', ['"((((', '..."', "too long"]),
    ("box.depth", f'"17{" " * 200_000}in"', ['"17 ', '..."', "too long"]),
    ("box.depth", f'"{" " * 200_000}"', ["too long"]),
    ("box.depth", f'"{LONG} in"', ['"9999', '..."', "too long"]),
    ("box.depth", '"1e999 m"', ['"1e999 m" is not a number']),
    ("box.depth", '"1,500 mm"', ['"1,500 mm" may be 1500 or 1.500', "thousands mark"]),
    ("box.depth", '"42 Mm"', ["too large", '"42 Mm"']),
    ("box.depth", '"42 MM"', ['"42 MM"', "does not fit here"]),
    ("box.depth", '"42 \\u202ecm"', ['"42 ?cm"', "does not fit here"]),
    ("box.depth", "42", ["42 has no unit"]),
    ("box.depth", "nan", ["nan has no unit"]),
    ("box.depth", "true", ["is not a number with a unit"]),
    ("box.depth", LONG, ["too many digits", "15 digits"]),
    ("box.depth", "0x" + "f" * 5000, ["too many digits", "15 digits"]),
    ("box.depth", "[" * 200 + "]" * 200, ["too many brackets", "at most 6"]),
    ("box.depth", "{a = " * 200 + "1" + "}" * 200, ["too many brackets", "at most 6"]),
    ("overflow.height", '"30 deg"', ['"30 deg"', "does not fit here"]),
    ("watering.share", '"30 deg"', ['"30 deg"', "does not fit here", '"40 %"']),
    ("watering.share", '"0.3 bit"', ['"0.3 bit"', "does not fit here"]),
    ("watering.share", "nan", ["nan", "too small"]),
    ("site.latitude", '"-33.9 S"', ['"-33.9 S": not a latitude', '"33.9 S"']),
    ("site.latitude", '"-33.9 N"', ['"-33.9 N": not a latitude']),
    ("site.latitude", '"1e400"', ['"1e400": not a latitude']),
    ("site.latitude", "nan", ["nan: not a latitude"]),
    ("watering.weekdays", '["monkey"]', ['"monkey" is not a day of the week', '"mon"']),
    ("watering.weekdays", '"mon/thu"', ['"mon/thu" is not a day of the week']),
    ("watering.weekdays", '["mo"]', ['"mo" is not a day of the week']),
    ("planting.0.planted", '"9999-12-31"', ['"9999-12-31"', "from 1700 to 2200", '"05-10"']),
    ("planting.0.planted", "9999-12-31", ["9999-12-31", "from 1700 to 2200"]),
    ("planting.0.planted", "0001-01-01", ["0001-01-01", "from 1700 to 2200"]),
]


def with_line(key, value):
    """The text of the example bed with one value in place of its own."""
    section, _, name = key.replace(".0.", ".").partition(".")
    head, line, rest = re.split(rf"(^\[+{section}\]+$)", TEXT, maxsplit=1, flags=re.MULTILINE)
    own = rest.partition("\n[")[0]
    kept = re.sub(rf"^{name} = .*$", "", own, flags=re.MULTILINE)
    return f"{head}{line}\n{name} = {value}\n{kept}{rest[len(own) :]}"


@pytest.mark.parametrize(("key", "value", "parts"), REFUSED)
def test_a_refusal_names_key_and_value(key, value, parts):
    with pytest.raises(InputError) as caught:
        bed_from_text(with_line(key, value), where="bed.toml")
    text = str(caught.value)
    assert text.startswith(f"bed.toml, {key}")
    for part in [*parts, "Expected "]:
        assert part in text
    assert "\n\n" not in text, "one message"
    assert max(map(len, text.splitlines())) < 160


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (parse_spells, f"7{' ' * 100_000}days", "is not a rainy spell"),
        (parse_spells, "10 days of 20 mm*9**9**9", '"20 mm*9**9**9" has a unit that does not fit'),
        (parse_spells, "10 days of 1/0 in", '"1/0 in" is not a number'),
        (lambda text: parse_choices([text]), f"box.depth={'[' * 3000}", "can't be read"),
        (lambda text: parse_choices([text]), f"box.depth=[{'9' * 5000}]", "can't be read"),
    ],
)
def test_options_are_bounded_as_well(read, text, said):
    with pytest.raises(InputError) as caught:
        read(text)
    assert str(caught.value).startswith("--")
    assert said in str(caught.value)
    assert max(map(len, str(caught.value).splitlines())) < 160


@pytest.mark.parametrize("value", ["[" * 1000 + "]" * 1000, "9" * 5000])
def test_what_toml_itself_can_not_read_is_named_by_its_line(value):
    text = with_line("box.depth", value)
    line = 1 + text.splitlines().index(f"depth = {value}")
    with pytest.raises(InputError) as caught:
        bed_from_text(text, where="bed.toml")
    assert str(caught.value).startswith(f"bed.toml, line {line}: not TOML: a number too long, or")
    assert "depth = " in str(caught.value)
    assert len(str(caught.value)) < 300


def test_a_mapping_from_python_is_looked_through_as_well():
    with pytest.raises(InputError, match=r"box\.depth: a number of too many digits"):
        bed_from_mapping({"box": {"depth": 10**400}})


@pytest.mark.parametrize(
    ("given", "days"),
    [
        ('"mon thu"', (0, 3)),
        ('"Mon+Thu"', (0, 3)),
        ('["Tues", "thurs."]', (1, 3)),
        ('"mondays"', (0,)),
    ],
)
def test_days_of_the_week(given, days):
    text = with_line("watering.weekdays", given).replace('"below share"', '"weekdays"')
    assert bed_from_text(text).watering.weekdays == days


@pytest.mark.parametrize(
    ("given", "latitude"),
    [('"33.9 S"', -33.9), ('"33.9° s"', -33.9), ('"44 deg N"', 44.0), ("-8", -8.0)],
)
def test_latitudes(given, latitude):
    assert bed_from_text(with_line("site.latitude", given)).site.latitude == latitude


def with_mix(lines):
    at, end = TEXT.index("[mix.top]"), TEXT.index("[surface]")
    return f'{TEXT[:at]}[mix.top]\nmedium = "potting mix"\n{lines}\n{TEXT[end:]}'


def test_a_number_of_a_mix_is_named_by_its_own_key():
    with pytest.raises(InputError, match=r"mix\.top\.theta_r = 0\.9: 0\.9 m3 m-3 is out of range"):
        bed_from_text(with_mix('theta_r = 0.9\ntheta_s = 0.3\nk_s = "9999 m/d"'))


def test_two_bad_numbers_of_one_mix_are_told_together(monkeypatch):
    def refused(mix, table):
        raise SeveralErrors(
            [
                RangeError("potting mix, n", "9.9 is out of range"),
                RangeError("potting mix, k_s_high", "20000 m d-1 is out of range"),
            ]
        )

    monkeypatch.setattr("bedtide.bed.sections._overridden", refused)
    with pytest.raises(SeveralErrors) as caught:
        bed_from_text(with_mix("n = 9.9"), where="bed.toml")
    mixes = [error.text for error in caught.value.errors if "mix.top" in error.where]
    assert mixes == [
        "bed.toml, mix.top.n = 9.9: 9.9 is out of range.",
        'bed.toml, mix.top.medium = "potting mix": 20000 m d-1 is out of range.',
    ]


def test_a_mix_as_steep_and_as_unwilling_as_may_be_described_runs():
    """n = 10 with l = 8.2 once left the tables of the mix."""
    bed = bed_from_text(with_mix("n = 10\nl = 8.2"))
    result = run_season(bed, read_weather(sample_weather()), start="2020-04-01", end="2020-04-30")
    assert abs(result.attrs["balance_error"]) < 1e-9
