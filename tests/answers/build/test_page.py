"""docs/build.md names every key that the user's file may have and that build.json holds."""

import re
from pathlib import Path

from bedtide.report.results import plain
from bedtide.tables import read_table
from helpers.builds import PIPES, built

PAGE = (Path(__file__).parents[3] / "docs" / "build.md").read_text(encoding="utf-8")


def test_every_key_of_the_users_file_is_named():
    rows = dict(re.findall(r"^\| `\[(\w+)\]` \| (.*) \|$", PAGE, re.M))
    known = read_table("trade_sizes.csv", key="key")
    for key in known:
        section, _, name = key.partition(".")
        if section != "bag" or name in ("other", "stone"):
            assert f"`{name}`" in rows[section], key
    named = {f"{s}.{n}" for s, text in rows.items() for n in re.findall(r"`([\w ]+)`", text)}
    assert named <= set(known)


def test_every_key_of_the_figures_is_named_in_order():
    rows = re.findall(r"^\| (`[^|]*) \|", PAGE.split("## build.json")[1], re.M)
    named = [key for cell in rows for key in re.findall(r"`(\w+)`", cell)]
    assert named == list(plain(built(PIPES)))


def test_every_key_of_the_parts_is_named():
    figures = plain(built(PIPES))
    parts = [figures[name] for name in ("boards", "hole", "slope", "weights")]
    parts += [
        figures[name][0] for name in ("checks", "items", "pipes", "mixes", "dipstick", "sizes")
    ]
    for part in parts:
        for key in part:
            assert f"`{key}`" in PAGE or key.endswith("_per_m2"), key
