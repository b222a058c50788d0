"""The whole command: its figures beside those that the other commands print, and its end."""

import json
import math
import re
import signal
import socket
import subprocess
import sys
import urllib.request

import pytest

from bedtide import read_weather, sample_weather
from bedtide.answers.try_.command import server_of
from bedtide.bed import bed_from_text, example_text
from page.conftest import changed as example_with

MOVES = {
    "overflow.height": "6",
    "mix depth": "20",
    "watering.when": "every n days",
    "watering.every": "4",
    "planting.0.planted": "2024-05-15",
    "leave": "2024-08-01",
    "days": "9",
}
TUNNEL = example_text().replace('open_to_rain = "100 %"', 'open_to_rain = "0 %"')
PRICES = """currency = "EUR"
[board]
lengths = { "3.0 m" = 9, "3.6 m" = 11, "4.8 m" = 16, "5.4 m" = 18 }
[pipe]
lengths = { "6 m" = 14.50 }
[bag]
"peat" = { "40 L" = 7.50, "70 L" = 12 }
[prices]
liner = "4.20 / m2"
"""
CASES = {
    "as it is": (example_text(), {}, "metric"),
    "moved": (example_text(), MOVES, "metric"),
    "US": (example_text(), {"overflow.height": "2.5", "reservoir.count": "3"}, "us"),
    "crates": (example_with("crates"), {"reservoir.height": "20"}, "metric"),
    "bare": (example_with("nothing planted"), {"overflow.height": "5"}, "us"),
    "never filled, no rain": (TUNNEL, {"watering.when": "never"}, "metric"),
}


@pytest.fixture(scope="module")
def weather():
    return read_weather(sample_weather("brasaluz"))


@pytest.fixture(params=CASES)
def told(request, weather, cli, tmp_path):
    """What the page tells of a bed, and a way to ask a command for the bed that it saves."""
    text, moves, units = CASES[request.param]
    prices = tmp_path / "prices.toml"
    prices.write_text(PRICES, encoding="utf-8")
    server = server_of(bed_from_text(text), weather, "bed.toml", units, None, 14, 0, prices)
    with server:
        found = {name: answer(moves) for name, answer in server.answers.items()}
    file = tmp_path / "bed.toml"
    file.write_text(found.pop("file")["text"], encoding="utf-8")
    stay = [moves.get("leave", "2024-07-10"), moves.get("days", "14")]

    def ask(command, *words):
        record = ["--prices", prices] if command == "build" else [sample_weather("brasaluz")]
        result = cli(command, file, *record, "--units", units, *words)
        assert result.exit_code == 0, result.stderr
        return " ".join(result.stdout.split())

    return {**found["year"], **found["years"]}, ask, stay


def printed(days):
    """A mean of days or fills as every table prints it: a tenth below ten unless it is whole."""
    return f"{math.floor(days + 0.5)}" if days >= 10 or days % 1 < 0.05 else f"{days:.1f}"


def test_figures_are_those_of_the_other_commands(told):
    page, ask, (leave, days) = told
    season = ask("season")
    litres = re.search(r"Water in: (.*?) poured in", season)[1]
    assert page["litres"] == litres
    fills = int(page["refills"])
    word = (
        "No fill|Not one fill" if fills == 0 else rf"\b{fills} fills" if fills > 1 else "once|One"
    )
    assert re.search(word, season)
    for key, words in (("wet", r"Wet days \(.*?\): "), ("dry", r"Dry days \(.*?\): ")):
        if found := re.search(words + r"(\d+ of \d+)", season):
            assert page[key] == found[1]
        else:
            assert page[key] == "0 of 0"
    assert f"holds {page['holds']}" in season

    away = ask("away", "--leave", leave, "--days", days, "--try", "none")
    if "Nothing grows here" in away:
        assert page["away"].startswith("Nothing grows here")
    else:
        sentence, counted = re.match(
            r"(.*?) (\d+ of 30 lasted|None.*|All.*)", page["away"]
        ).groups()
        lasts = re.search(r"(Likely to last .*? \(9 in 10 years\): .*? days\.)", away)[1]
        assert re.sub(r" from \d+ \w+", "", sentence) == lasts
        chance = {"0": "None of 30 years lasted", "30": "All 30 years lasted"}
        number = counted.split()[0]
        assert chance.get(number, f"{number} of 30 years lasted") in away

    compare = json.loads(ask("compare", "--json"))["beds"][0]
    row = ask("compare")
    for key, name in (("refills", "refills"), ("wet", "wet_days"), ("dry", "dry_days")):
        middle, low, high = (printed(compare[f"{name}_{end}"]) for end in ("mean", "p10", "p90"))
        ends = low if low == high else f"{low} to {high}"
        assert page[f"{key}_years"] == f"{middle} ({ends})"
    assert f"{page['refills_years'].split(' ')[0]} fill" in row
    liquid = r"([\d,.]+)(?: \(([\d,.]+)(?: to ([\d,.]+))? (?:L|US gal)\))?"
    gallon = 3.785411784 if "US gal" in page["litres_years"] else 1.0  # litres, by definition
    shown = re.search(liquid, page["litres_years"].replace(" L (", " (").replace(" US gal (", " ("))
    for end, text in zip(("mean", "p10", "p90"), shown.groups(), strict=True):
        amount = compare[f"refill_litres_{end}"] / gallon
        assert (text or shown[2]) == (
            f"{amount:,.0f}" if amount >= 10 else f"{amount:.1f}".rstrip("0").rstrip(".")
        )


def test_the_cost_is_that_of_build(told):
    page, ask, _ = told
    sheet = ask("build")
    together = re.search(
        r"Together (\d+\.\d\d EUR, without what has no price yet: .*?\.) \*?", sheet
    )
    assert f"To buy: {together[1]}" in page["cost"]
    assert float(together[1].split()[0]) > 0
    assert ("Can't be built" in page["cost"]) == ("can't be built as described" in sheet)
    assert together[1].split(",")[0] in page["brief"]


def test_without_prices_none_is_told(weather):
    with server_of(bed_from_text(example_text()), weather, "bed.toml", "us", None, 14, 0) as server:
        told = server.answers["year"]({"overflow.height": "4.5"})
    # The lip at 4 1/2 in with its bore of 3/4 in ends over the pipe, 4 3/4 less a wall of 3/8.
    assert "Can't be built as it is (outlet inside a pipe)" in told["cost"]
    assert "No prices were given" in told["cost"]
    assert "EUR" not in told["brief"]


def test_a_mistake_in_the_prices_is_told_at_once(cli, tmp_path):
    (tmp_path / "mine.toml").write_text('[prices]\nliner = "4.20 / kg"\n', encoding="utf-8")
    result = cli("try", "--no-browser", "--prices", tmp_path / "mine.toml")
    assert result.exit_code == 2
    assert "mine.toml, prices.liner" in result.stderr


def test_weight_is_that_of_compare(told):
    page, ask, _ = told
    full = json.loads(ask("compare", "--json"))["beds"][0]
    kilograms = full["full_kg"]
    pounds = kilograms / 0.45359237  # by definition of the pound
    number = float(re.match(r"[\d,.]+", page["weight"])[0].replace(",", ""))
    assert number == pytest.approx(pounds if " lb," in page["weight"] else kilograms, rel=2e-3)
    load = f"{full['full_kg_per_m2']:,.0f} kg/m2"
    assert load in page["weight"]
    assert f" {page['weight'].split(' ')[0]} " in ask("compare")


def test_every_answer_is_worked_out_from_what_was_sent_alone(weather):
    bed = bed_from_text(example_text())
    with server_of(bed, weather, "bed.toml", "metric", None, 14, 0) as server:
        year = server.answers["year"]
        first, other = year({}), year({"overflow.height": "5"})
        assert first != other
        assert year({}) == first
        assert year({"overflow.height": "5"}) == other


def start(*words):
    command = [sys.executable, "-m", "bedtide", "try", "--no-browser", *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_it_serves_until_it_is_ended():
    running = start()
    try:
        url = running.stdout.readline().split()[1]
        page = urllib.request.urlopen(url, timeout=60).read().decode()
        assert "Try: Kitchen bed" in page
        running.send_signal(signal.SIGINT)
        rest, errors = running.communicate(timeout=60)
    finally:
        running.kill()
    assert running.returncode == 0
    assert rest.endswith("Ended.\n")
    assert errors == ""


def test_a_port_in_use_is_told(cli):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        result = cli("try", "--no-browser", "--port", port)
    assert result.exit_code == 2
    assert f"--port: 127.0.0.1:{port} can't be had" in result.stderr


def test_the_stay_begins_in_midsummer(weather):
    bed = bed_from_text(example_text())
    page = {}
    for latitude in (44.5, -33.9):
        placed = weather.assign_attrs(latitude=latitude)
        with server_of(bed, placed, "bed.toml", "metric", None, 14, 0) as server:
            page[latitude] = server.page("x")
    assert 'name="leave" min=2024-01-01 max=2024-12-31  value="2024-07-10"' in page[44.5]
    assert re.search(r'name="leave"[^>]*value="\d{4}-01-10"', page[-33.9])
