"""Sizes of the trade and the user's file: what is read, what is refused and how it is said."""

import csv
from pathlib import Path

import pytest

import bedtide
from bedtide.building.trade import read_trade
from bedtide.errors import FieldError, InputError
from bedtide.tables import read_table
from helpers.builds import CRATES, PIPES, TUB, built

TABLE = Path(bedtide.__file__).parent / "data" / "trade_sizes.csv"


def write(folder, text):
    path = folder / "mine.toml"
    path.write_text(text)
    return path


def test_every_size_says_how_sure_it_is():
    rows = list(csv.DictReader(row for row in TABLE.read_text().splitlines() if row[0] != "#"))
    assert len(rows) > 40
    for row in rows:
        assert row["about"], row
        assert (
            "no source" in row["standing"]
            or "ours" in row["standing"]
            or ("asked for" in row["standing"])
        )
        assert bool(row["metric"]) == bool(row["us"])
        assert bool(row["metric"]) == (not row["standing"].startswith("asked for"))


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_size_can_be_overridden(tmp_path, units):
    plain = read_trade(None, units)
    for given in plain.table.values():
        section, _, name = given.key.partition(".")
        value = given.value
        path = write(tmp_path, f'[{section}]\n"{name}" = "{value}"\n')
        own = read_trade(path, units).table[given.key]
        assert own.standing == "mine.toml"
        assert own.value == value


def test_prices_in_every_form(tmp_path):
    text = """
currency = "AUD"
[board]
lengths = { "2.4 m" = 8, "3 m" = 9.5 }
[bag]
"potting mix" = ["25 L", "40 L"]
compost = { "30 L" = 6 }
[prices]
liner = "4.20 / m2"
screws = 0.1
[amendments]
lime = "4 mL/L"
"""
    trade = read_trade(write(tmp_path, text), "metric")
    assert trade.currency == "AUD"
    assert [size.price for size in trade.sizes["board.lengths"].values()] == [8, 9.5]
    assert list(trade.bags("potting mix")) == [0.025, 0.04]
    assert trade.bags("compost")[0.03].price == 6
    assert trade.bags("never heard of")[0.04].text == "40 L"
    assert trade.price("liner", 2, 5.0, "m2") == 21.0
    assert trade.price("screws", 24, 24.0, "") == pytest.approx(2.4)
    assert trade.price("lid", 1, 1.0, "") is None
    assert trade.amendments["lime"] == (pytest.approx(0.004), "1")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[bord]\nwidth = "20 cm"', ["bord.width: there is no such key", "Closest: board.width"]),
        ("[board]\nwidth = 200", ["board.width", "has no unit"]),
        ('[board]\nwidth = "-2 cm"', ["board.width", "out of range"]),
        ('[board]\nlengths = { "3 m" = "dear" }', ["lengths.3 m", "dear is not a price"]),
        ("[board]\nlengths = 3", ["not a size, a list or a table"]),
        ('[board]\nlengths = ["0 m"]', ["is no size"]),
        ('[board]\nwidth = "0 cm"', ["board.width", "is no size"]),
        ('[board]\nwidth = "0.001 mm"', ["board.width", "is no size", "at least 0.0001 m"]),
        ('[board]\nfloor = "20 km"', ["board.floor", "out of range", "less than 10000 m"]),
        ('[bag]\nother = "1e300 L"', ["bag.other", "out of range", "less than 10000 m3"]),
        ("[mix]\nsettling = nan", ["mix.settling", "out of range", "less than 100 %"]),
        ("[amendments]\nlime = nan", ["amendments.lime", "out of range"]),
        ('[amendments]\nlime = "-4 kg/m3"', ["amendments.lime", "out of range"]),
        ("[pipe]\nlengths = []", ["pipe.lengths", "no size in it", "one size at the least"]),
        ("[bag]\ncompost = []", ["bag.compost", "no size in it"]),
        ("[prices]\nliner = -1", ["prices.liner", "-1 is not a price"]),
        ('[prices]\nliner = "4.20 / "', ["prices.liner", "is not a price", "4.20 / m2"]),
        ("[prices]\nliner = nan", ["prices.liner", "is not a price"]),
        ('[mix]\nsettling = "120 %"', ["mix.settling", "less than 100 %"]),
        ('[amendments]\nlime = "4 spoons"', ["amendments.lime", "is not a rate"]),
        ("width = 3", ["width: there is no such key", "[board]"]),
        ("[board\n", [", line 1: not TOML"]),
        (f"[board]\nwidth = {'[' * 3000}", [", line 2: not TOML", "brackets too deep"]),
        (f"[board]\nwidth = {'9' * 5000}", [", line 2: not TOML", "a number too long"]),
        ('[board]\nwidth = "2"\nkerf = "x"', ["board.width", "board.kerf"]),
    ],
)
def test_mistakes_are_told(tmp_path, text, said):
    with pytest.raises(InputError) as found:
        read_trade(write(tmp_path, text), "metric")
    message = found.value.told(str)
    for part in ("mine.toml", *said):
        assert part in message


@pytest.mark.parametrize("mapping", [PIPES, TUB, CRATES], ids=["pipes", "tub", "crates"])
def test_no_size_of_nothing_breaks_a_sheet(mapping):
    """Each size set to nothing is refused by its key, or the bed is worked out without it."""
    for key, row in read_table("trade_sizes.csv", key="key").items():
        unit = row["unit"]
        if unit == "price":
            continue
        own = {key: [] if unit.endswith("sizes") else f"0 {unit}".removesuffix(" 1")}
        if row["needed"]:
            with pytest.raises(FieldError, match=f"^mine.toml, {key}: "):
                built(mapping, own=own)
        else:
            assert built(mapping, own=own).items


def test_a_rate_in_what_it_is_not_measured_in(tmp_path):
    trade = read_trade(write(tmp_path, '[prices]\nlid = "3 / m2"'), "metric")
    with pytest.raises(InputError, match=r"measured in pieces"):
        trade.price("lid", 1, 1.0, "")


def test_a_missing_file(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_trade(tmp_path / "none.toml", "metric")
    with pytest.raises(InputError, match="a folder"):
        read_trade(tmp_path, "metric")
