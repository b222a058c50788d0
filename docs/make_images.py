"""Make the pictures of the README from the built-in example.  python docs/make_images.py"""

import json
from pathlib import Path

from bedtide import example_bed, read_weather, run_season, sample_weather
from bedtide.answers.season.pictures import season_figure
from bedtide.answers.season.summary import summary_of
from bedtide.files import plain

IMAGES = Path(__file__).with_name("images")
SHOWN = ("from", "to", "refills", "refill_litres", "overflow_litres", "wet_days", "dry_days")


def season():
    """The season that `bedtide season` runs when it is given nothing."""
    weather = read_weather(sample_weather(), start="2023-12-31", end="2024-12-31")
    return run_season(example_bed(), weather, start="2024-01-01", end="2024-12-31")


def said(run) -> str:
    """What the picture shows, as text that goes into the file with it."""
    figures = plain(summary_of(run))
    return json.dumps({key: figures[key] for key in SHOWN}, sort_keys=True)


def main() -> None:
    """Write docs/images/season.png."""
    run = season()
    metadata = {"Software": "bedtide", "Description": said(run)}
    IMAGES.mkdir(exist_ok=True)
    season_figure(run).savefig(IMAGES / "season.png", dpi=130, metadata=metadata)


if __name__ == "__main__":
    main()
