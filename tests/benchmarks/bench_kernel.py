"""The compiled step: beds of all kinds, one thread and two, and the same days in other ways."""

from __future__ import annotations

import plain_ways
from cases import crowd, extreme, ordinary, summer, work


class Ordinary:
    """Target: at most 2.5 microseconds a bed-day on one core, 1.2 if it can be."""

    params = tuple(ordinary())
    param_names = ("bed",)

    def setup(self, bed: str, years: int = 30) -> None:
        """Cells, tables and demand are at hand."""
        self.work = work([(ordinary() | extreme())[bed]], years=years)
        self.work()

    def time_years(self, bed: str, years: int = 30) -> None:
        """Thirty years of one bed."""
        self.work()


class Extreme(Ordinary):
    """Target: at most 8 microseconds a bed-day on one core."""

    params = tuple(extreme())


class Threads:
    """Target: two threads do 1.9 times the work of one."""

    params = (1, 2)
    param_names = ("threads",)

    def setup(self, threads: int, beds: int = 64, years: int = 3) -> None:
        """Many beds, all different."""
        self.work = work(crowd(beds), years=years)
        self.work()

    def time_years(self, threads: int, beds: int = 64, years: int = 3) -> None:
        """Every bed on as many threads."""
        self.work(threads=threads)


class Ways:
    """The same days of the example by the compiled step, by Python, and copied."""

    def setup(self) -> None:
        """A few days of July, twenty years for what is fast."""
        self.days = summer(ordinary()["example"], 5)
        self.years = work([ordinary()["example"]], years=20)
        self.figures = self.years()[0]
        self.mover = plain_ways.plain_move()

    def time_compiled(self) -> None:
        """Twenty years."""
        self.years()

    def time_plain_python(self) -> None:
        """Five days."""
        plain_ways.in_plain_python(self.days, self.mover)

    def time_copies(self) -> None:
        """What goes in and comes out in twenty years."""
        plain_ways.copied(self.years, self.figures)


class Lines:
    """A hundred days of a planted bed by the compiled step and by the method of lines.

    Target: a thousand times as fast.
    """

    again = 100  # times that the compiled step goes through them, to be seen on the clock

    def setup(self) -> None:
        """The refills of one are given to the other."""
        self.case = plain_ways.planted_season()
        self.solved = plain_ways.by_lines(self.case)
        self.work, self.found = plain_ways.by_step(self.case, self.solved.refill)

    def time_compiled(self) -> None:
        """The days again and again."""
        for _ in range(self.again):
            self.work()

    def time_lines(self) -> None:
        """The days once."""
        plain_ways.by_lines(self.case)
