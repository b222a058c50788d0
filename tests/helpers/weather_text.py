"""The text of a small weather file."""

import datetime

HEAD = """# place: Made up
# latitude: 50
# elevation: 100 m
date,tmax (C),tmin (C),dew point (C),wind at 2 m (m/s),solar radiation (MJ/m2),rain (mm)
"""


def weather_rows(days: int) -> list[str]:
    """Rows of days from 1 May 2023 on, the same but for the rain."""
    first = datetime.date(2023, 5, 1)
    return [
        f"{first + datetime.timedelta(days=day)},{20 + day % 5}.5,{9 + day % 3}.0,8.0,2.0,"
        f"{18 + day % 7}.0,{12.5 if day % 9 == 4 else 0}"
        for day in range(days)
    ]
