"""What is written and drawn: the cases as a table, the fills as a calendar, a page's series."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bedtide.files import replacing
from bedtide.report.templates import render
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd

    from bedtide.answers.now.fit import Morning
    from bedtide.answers.now.summary import Ahead, Now
    from bedtide.units import System


def calendar_text(beds: Sequence[Now], units: System, made: datetime.datetime) -> bytes:
    """One event of a whole day for the next fill of each bed that wants one.

    The event of a bed has the same name whenever it is asked for, and one `made` later a greater
    number, so that a phone puts it in the place of the older one. A day without hours is the same
    in every time zone.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//bedtide//now//EN")
    calendar.add("version", "2.0")
    for name in ("name", "x-wr-calname"):  # RFC 7986, and what phones read; else the file's name
        calendar.add(name, f"Fill {beds[0].bed}" if len(beds) == 1 else "Beds to fill")
    for bed in beds:
        if bed.fill is None:
            continue
        day = datetime.date.fromisoformat(bed.fill)
        title, about = render("answers/now/event.j2", units=units, s=bed).split("\n\n")
        event = Event()
        event.add("uid", f"{hashlib.sha256(bed.bed.encode()).hexdigest()[:16]}@bedtide")
        event.add("dtstamp", made)
        event.add("sequence", int(made.timestamp()) // 60)
        event.add("dtstart", day)
        event.add("dtend", day + datetime.timedelta(days=1))
        event.add("summary", title)
        event.add("description", about)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def write_calendar(path: Path, beds: Sequence[Now], units: System) -> None:
    """Write the calendar."""
    with replacing(path) as temporary:
        temporary.write_bytes(calendar_text(beds, units, datetime.datetime.now(datetime.UTC)))


def table_of_cases(beds: Sequence[Now]) -> pd.DataFrame:
    """One row a bed and past year."""
    import pandas as pd

    found = pd.DataFrame([{"bed": each.bed} | asdict(case) for each in beds for case in each.cases])
    return found.rename(columns={"fill_litres": "fill_L"})


def series_of(told: Now, units: System) -> dict[str, Any]:
    """What a page draws: usable water of the days ahead, levels of the mornings of a fit.

    The days ahead are those until it is gone in nearly every year, and a few more.
    """
    last = told.empty_latest or told.ahead[-1].date
    shown = told.ahead[: sum(day.date <= last for day in told.ahead) + 2]
    litres, cm = (1.0, 1.0) if units == "metric" else (US_GALLON * 1e3, INCH * 100)
    course = _drawn(shown, litres) | {"full": [told.usable_full_litres / litres]}
    return {"course": course, "learned": told.fit and _drawn(told.fit.mornings, cm)}


def _drawn(rows: Sequence[Ahead | Morning], size: float) -> dict[str, list[Any]]:
    """The values of each field, in the reader's units."""
    found: dict[str, list[Any]] = {}
    for row in rows:
        for name, each in asdict(row).items():
            found.setdefault(name, []).append(each / size if isinstance(each, float) else each)
    return found
