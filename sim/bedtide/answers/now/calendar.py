"""Fill dates as a calendar file that a phone takes."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from bedtide.files import replacing
from bedtide.report.templates import line

if TYPE_CHECKING:
    from bedtide.answers.now.summary import Now
    from bedtide.units import System

_TITLE = "Fill {{ s.bed }}, about {{ s.fill_litres|litres }}"
_ABOUT = (
    "{% if s.empty %}Left alone it is empty on {{ s.empty|day }}. {% endif %}"
    "{% if s.fill_earliest and s.fill_latest and s.fill_earliest != s.fill_latest %}"
    "The day may be between {{ s.fill_earliest|day }} and {{ s.fill_latest|day }}. {% endif %}"
    "Worked out on {{ s.today|date }}: look with a stick before you fill."
)


def calendar_text(beds: Sequence[Now], units: System) -> bytes:
    """One event of a whole day for the next fill of each bed that wants one."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//bedtide//now//EN")
    calendar.add("version", "2.0")
    for bed in beds:
        if bed.fill is None:
            continue
        day = datetime.date.fromisoformat(bed.fill)
        begun = datetime.date.fromisoformat(bed.today)
        event = Event()
        # The same for a bed whenever it is asked for: a new date takes the place of the old one.
        event.add("uid", f"{hashlib.sha256(bed.bed.encode()).hexdigest()[:16]}@bedtide")
        event.add(
            "dtstamp", datetime.datetime(begun.year, begun.month, begun.day, tzinfo=datetime.UTC)
        )
        event.add("sequence", begun.toordinal())
        event.add("dtstart", day)
        event.add("dtend", day + datetime.timedelta(days=1))
        event.add("summary", line(_TITLE, units=units, s=bed))
        event.add("description", line(_ABOUT, units=units, s=bed))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def write_calendar(path: Path, beds: Sequence[Now], units: System) -> None:
    """Write the calendar."""
    with replacing(path) as temporary:
        temporary.write_bytes(calendar_text(beds, units))
