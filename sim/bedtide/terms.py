"""The words of the field: every variable of a result, from ``data/terms.csv``.

Dataset attributes and the glossary page in docs/ are made from that table.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

from bedtide.tables import read_table


@dataclass(frozen=True)
class Term:
    """One quantity: its name in a Dataset, its unit, and what it is called and means."""

    name: str
    unit: str  # UDUNITS text; 1 for a share, empty for a date
    symbol: str  # in the equations of docs/
    long_name: str
    standard_name: str  # CF
    cell_methods: str  # CF: time: sum over the day, time: point at its end
    sentence: str  # with its sign where it has one


@lru_cache(maxsize=1)
def terms() -> dict[str, Term]:
    """Every term of the glossary by its name, in the order of the table."""
    rows = read_table("terms.csv", columns=[field.name for field in fields(Term)])
    return {name: Term(**row) for name, row in rows.items()}


def attributes(name: str) -> dict[str, str]:
    """Attributes of a Dataset variable; a name that the glossary lacks is a bug (KeyError)."""
    term = terms()[name]
    found = {
        "long_name": term.long_name,
        "comment": term.sentence,
        "units": term.unit,
        "standard_name": term.standard_name,
        "cell_methods": term.cell_methods,
    }
    return {key: text for key, text in found.items() if text}
