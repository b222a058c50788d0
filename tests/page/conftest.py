"""Pages of every answer, made once through the command line from two years of weather."""

import hashlib
from pathlib import Path

import pytest
from click.testing import CliRunner

from bedtide.bed import example_text
from bedtide.cli import main
from bedtide.tables import sample_weather

pytest_plugins = ["helpers.browser"]

NASTY = (
    """</title><script>window.hit=1</script>"><img src=x onerror=window.hit=2> Tom & Jo's {{7*7}}"""
)
# fmt: off
COMMANDS = {
    "season": ["season", "BED", "WEATHER", "--from", "2022-03-01", "--to", "2022-11-30"],
    "compare": ["compare", "BED", "WEATHER", "--vary", "box.depth=28cm,42cm", "--wet-spell"],
    "wet-spell": ["wet-spell", "BED", "WEATHER", "--spell", "7 days"],
    "away": ["away", "BED", "WEATHER", "--leave", "2027-07-10", "--days", "12", "--try", "mulch"],
    "calendar": ["away", "BED", "WEATHER", "--all-dates"],
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
            asked = [str(files.get(word, word)) for word in COMMANDS[name]]
            result = CliRunner().invoke(main, [*asked, *words, "--page", str(path)])
            assert result.exit_code == 0, result.stderr
            assert f"Written: {path}" in result.stderr
            done[key] = path
        return done[key]

    return made


def sha256(path: Path) -> str:
    """Checksum of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
