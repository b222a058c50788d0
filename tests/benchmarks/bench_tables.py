"""Building the profile tables of a bed that was never seen before."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from bedtide import bed_tables, example_bed

_NEW = count(1)


class Tables:
    """Target of the first issue: under 0.3 s a bed."""

    def setup(self) -> None:
        """The example; its mix is blended beforehand."""
        self.bed = example_bed()

    def time_a_new_bed(self) -> None:
        """A bed a hundredth of a millimetre deeper than the last: nothing is in the cache."""
        box = replace(self.bed.box, depth=self.bed.box.depth + 1e-5 * next(_NEW))
        bed_tables(replace(self.bed, box=box))
