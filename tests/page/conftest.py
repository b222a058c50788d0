"""Pages of every answer, made once through the command line from two years of weather."""

import hashlib
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedtide.bed import example_text
from bedtide.cli import main
from bedtide.tables import sample_weather

NASTY = (
    """</title><script>window.hit=1</script>"><img src=x onerror=window.hit=2> Tom & Jo's {{7*7}}"""
)
# fmt: off
COMMANDS = {
    "season": ["season", "BED", "WEATHER", "--from", "2022-03-01", "--to", "2022-11-30"],
    "compare": ["compare", "BED", "WEATHER", "--vary", "box.depth=28cm,42cm", "--wet-spell"],
    "wet-spell": ["wet-spell", "BED", "WEATHER", "--spell", "7 days"],
    "away": ["away", "BED", "WEATHER", "--leave", "2027-07-10", "--days", "12", "--try", "mulch"],
    "now": ["now", "BED", "WEATHER", "--to", "2023-06-11", "--level", "40 %", "--stick"],
    "calendar": ["away", "BED", "WEATHER", "--all-dates"],
    "map": ["map", "WEATHER", "--bed", "BED", "--leave", "2027-07-10", "--out", "OUT"],
}
# fmt: on


@pytest.fixture(scope="session")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bed, one with a nasty name, and two years of weather; their file names are odd too."""
    folder = tmp_path_factory.mktemp("garden")
    (folder / "bed.toml").write_text(example_text(), encoding="utf-8")
    name = NASTY.replace("\\", "\\\\").replace('"', '\\"')
    nasty = example_text().replace('"Kitchen bed"', f'"{name}"')
    (folder / "<b> & 'bed'.toml").write_text(nasty, encoding="utf-8")
    lines = sample_weather("brasaluz").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[:4].isdigit() or line[:4] in ("2022", "2023")]
    (folder / "weather.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    hit = [line.replace("Brasaluz", "<img src=x onerror=window.hit=3>") for line in kept]
    assert hit != kept
    (folder / "<i>&.csv").write_text("\n".join(hit) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def made(garden: Path, tmp_path_factory: pytest.TempPathFactory):
    """Make a page by the name of its answer, plain or of the bed with the nasty name, once."""
    folder, done = tmp_path_factory.mktemp("pages"), {}

    def made(name: str, *words: str, nasty: bool = False) -> Path:
        key = (name, nasty, *words)
        if key not in done:
            files = {"BED": garden / ("<b> & 'bed'.toml" if nasty else "bed.toml")}
            files["WEATHER"] = garden / ("<i>&.csv" if nasty else "weather.csv")
            path = folder / f"{name}-{len(done)}.html"
            files["OUT"] = folder / f"{name}-{len(done)}"
            asked = [str(files.get(word, word)) for word in COMMANDS[name]]
            asked += [] if "--units" in words else ["--units", "metric"]
            result = CliRunner().invoke(main, [*asked, *words, "--page", str(path)])
            assert result.exit_code == 0, result.stderr
            assert f"Written: {path}" in result.stderr
            done[key] = path
        return done[key]

    return made


LAYER = '[reservoir]\nform = "{}"\nheight = "15 cm"\nvoid_share = "90 %"\n{}\n\n# The outlet'
LEGS = 'wick_share = "12 %"\nwick_foot = "{}"'
LIP = 'height = "3 1/2 in"'
BEDS = {
    "crates": {"PIPES": LAYER.format("crates", LEGS.format("0 cm"))},
    "stone with a foot, blocked": {
        "PIPES": LAYER.format("stone", LEGS.format("2 cm")),
        'state = "open"': 'state = "blocked"',
    },
    "false floor that nothing reaches, no outlet": {
        "PIPES": LAYER.format("false floor", 'wick_share = "0 %"'),
        'state = "open"': 'state = "none"',
        LIP: "#",
        "bore = ": "# bore = ",
    },
    "tub": {'width = "24 in"': 'width = "24 in"\nwidth_at_floor = "20 in"'},
    "long and shallow": {'length = "8 ft"': 'length = "30 m"', 'depth = "17 in"': 'depth = "9 in"'},
    "deep and narrow, one pipe": {
        'width = "24 in"': 'width = "30 cm"',
        'depth = "17 in"': 'depth = "1.2 m"',
        "count = 4": "count = 1",
    },
    "many changes of the lip": {
        "# [[overflow.change]]": "[[overflow.change]]",
        '# from = "10-15"': 'from = "10-15"',
        '# to = "04-15"': 'to = "04-15"',
        '# height = "1 1/2 in"': 'height = "3 in"',
    },
    "nothing planted": {"[[planting]]": None},
}


def changed(name: str) -> str:
    """Text of the example bed with the changes of one of the beds above."""
    text = example_text()
    for old, new in BEDS[name].items():
        if new is None:
            first, last = text.index("[[planting]]"), text.index("# Other rules")
            text = "planting = []\n" + text[:first] + text[last:]
            continue
        old = (
            text[text.index("[reservoir]") : text.index("# The outlet")] if old == "PIPES" else old
        )
        assert old in text, old
        text = text.replace(old, new.removesuffix("# The outlet"))
    return text


def sha256(path: Path) -> str:
    """Checksum of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
