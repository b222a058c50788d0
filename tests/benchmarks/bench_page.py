"""A page from a season that was run; a change on the page to play with, all its answers."""

from __future__ import annotations

from bedtide import run_season
from bedtide.answers.season.days import days_of
from bedtide.answers.season.summary import summary_of
from bedtide.answers.try_.command import server_of
from bedtide.report.page import page
from bedtide.report.templates import environment, render
from cases import ordinary, record

_TEXT, _PAGE = "answers/season/text.j2", "answers/season/page.j2"


class Page:
    """Target: 500 ms after the run."""

    def setup(self) -> None:
        """A year of the example and its figures."""
        self.bed = ordinary()["example"]
        self.season = run_season(self.bed, record(1))
        self.summary = summary_of(self.season)

    def forget(self) -> None:
        """No template is compiled but that of the words, which are printed before the page."""
        for cached in (environment, page.pages):
            cached.cache_clear()
        render(_TEXT, s=self.summary)

    def time_page(self) -> int:
        """Days, drawing of the bed, page."""
        names = {"words": _TEXT, "made": {"command": "bedtide season", "files": ()}}
        names["days"] = days_of(self.season, self.bed, "metric")
        return len(page.page_of(self.summary, _PAGE, self.bed, units="metric", **names))


class Change:
    """Target: a change on the page of `bedtide try` answered in 1 s, its years too."""

    def setup(self) -> None:
        """The server of the example with thirty years of weather."""
        self.server = server_of(
            ordinary()["example"], record(30), "bed.toml", "metric", None, 14, 0
        )
        self.server.server_close()
        self.lip = 5.0

    def time_change(self) -> int:
        """Drawing, a year with a stay away, every year, of a bed that was never asked for."""
        self.lip += 0.01
        answers, given = self.server.answers, {"overflow.height": f"{self.lip:.2f}"}
        return sum(len(answers[part](given)) for part in ("drawing", "year", "years"))
