"""Small weather files in each format that can be read, all of the same invented days.

Layouts: the US files, the Australian element and month files, the German, Canadian, European and
French headers follow rows of real files that were read when the formats were chosen; the Dutch
and UK archive layouts, the ordered US summaries and the older US orders are from memory.
"""

from __future__ import annotations

import json

import numpy as np

FIRST = np.datetime64("2019-02-20")
COUNT = 40


def truth(count=COUNT, first=FIRST):
    """Days, and tmax, tmin [degC], rain [mm], all to one decimal, with dry days and wet ones."""
    i = np.arange(count)
    tmax = np.round(16.0 + 6.0 * np.sin(i / 5.0) + (i * 7 % 11) / 10.0, 1)
    tmin = np.round(tmax - 6.0 - (i * 5 % 13) / 10.0, 1)
    rain = np.where(i % 3 == 0, 0.0, np.round((i * 17 % 23) / 2.0 + 0.4, 1))
    return first + i, {"tmax": tmax, "tmin": tmin, "rain": rain}


def _tenths(values):
    return [str(round(v * 10)) for v in values]


def _rows(lines, end="\n"):
    return (end.join(lines) + end).encode("utf-8")


def plain():
    days, v = truth()
    head = ["# latitude: 48.0", "# elevation: 200 m", "date,tmax (C),tmin (C),rain (mm)"]
    body = [f"{d},{a:.1f},{b:.1f},{r:.1f}" for d, a, b, r in zip(days, *v.values(), strict=True)]
    return _rows(head + body)


def hourly():
    days, v = truth()
    lines = ["# latitude: 48.0", "# elevation: 200 m", "time,temp (C),rain (mm)"]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        for h in range(24):
            t = a if h == 14 else b if h == 5 else (a + b) / 2
            lines.append(f"{d} {h:02d}:00,{t:.2f},{r if h == 3 else 0.0:.2f}")
    return _rows(lines)


_PLACE = '"48.0","16.0","200.0","HILL FARM, INVENTED"'


def ghcn_station(station="USC00999999", observed=",0700"):
    days, v = truth()
    lines = [
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES",'
        '"TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"'
    ]
    for d, a, b, r in zip(days, *map(_tenths, v.values()), strict=True):
        lines.append(
            f'"{station}","{d}",{_PLACE},"{r.rjust(5)}",",,7{observed}",'
            f'"{a.rjust(5)}",",,7","{b.rjust(5)}",",,7"'
        )
    return _rows(lines)


def ghcn_ordered(units="metric"):
    days, v = truth()
    lines = ['"STATION","NAME","LATITUDE","LONGITUDE","ELEVATION","DATE","PRCP","TMAX","TMIN"']
    for d, a, b, r in zip(days, *v.values(), strict=True):
        if units == "metric":
            cells = [f"{r:.1f}", f"{a:.1f}", f"{b:.1f}"]
        else:
            cells = [f"{r / 25.4:.2f}", f"{a * 1.8 + 32:.0f}", f"{b * 1.8 + 32:.0f}"]
        cells = ",".join(f'"{c}"' for c in cells)
        lines.append(f'"USW00999999","HILL FARM, INVENTED","48.0","16.0","200.0","{d}",{cells}')
    return _rows(lines)


def ghcn_ordered_standard():
    return ghcn_ordered("standard")


def ghcn_list(header=True):
    days, v = truth()
    lines = ["ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"] if header else []
    for d, a, b, r in zip(days, *map(_tenths, v.values()), strict=True):
        date = str(d).replace("-", "")
        for element, value in (("TMAX", a), ("TMIN", b), ("PRCP", r)):
            lines.append(f"USW00999999,{date},{element},{value},,,W,2400")
    return _rows(lines)


def ghcn_list_bare():
    return ghcn_list(header=False)


def ghcn_fixed():
    days, v = truth()
    by_day = {str(d): i for i, d in enumerate(days)}
    lines = []
    for month in sorted({str(d)[:7] for d in days}):
        for name, element in (("tmax", "TMAX"), ("tmin", "TMIN"), ("rain", "PRCP")):
            line = f"USW00999999{month[:4]}{month[5:]}{element}"
            for day in range(1, 32):
                at = by_day.get(f"{month}-{day:02d}")
                value = -9999 if at is None else round(v[name][at] * 10)
                line += f"{value:5d}  {' ' if at is None else 'W'}"
            lines.append(line)
    return _rows(lines)


def summary_of_day():
    days, v = truth()
    lines = [
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","TEMP","TEMP_ATTRIBUTES",'
        '"DEWP","DEWP_ATTRIBUTES","WDSP","WDSP_ATTRIBUTES","MXSPD","GUST","MAX","MAX_ATTRIBUTES",'
        '"MIN","MIN_ATTRIBUTES","PRCP","PRCP_ATTRIBUTES","SNDP","FRSHTT"'
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        a, b = a * 1.8 + 32, b * 1.8 + 32
        lines.append(
            f'"99999099999","{d}",{_PLACE},"  {(a + b) / 2:.1f}","24","  {b - 2:.1f}","24",'
            f'"  5.0","24","  9.9","999.9","  {a:.1f}"," ","  {b:.1f}","*","{r / 25.4:5.2f}","G",'
            '"999.9","010000"'
        )
    return _rows(lines)


def local_climate():
    days, v = truth()
    lines = [
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","REPORT_TYPE",'
        '"DailyMaximumDryBulbTemperature","DailyMinimumDryBulbTemperature","DailyPrecipitation",'
        '"HourlyPrecipitation"'
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        for h in (6, 12):
            lines.append(f'"1",{d}T{h:02d}:51:00,{_PLACE},"FM-15","","","","0.00"')
        lines.append(
            f'"1",{d}T23:59:00,{_PLACE},"SOD  ","{a * 1.8 + 32:.0f}","{b * 1.8 + 32:.0f}",'
            f'"{r / 25.4:.2f}",""'
        )
    return _rows(lines)


def _bureau(code, title, extra, cells):
    days, _ = truth()
    head = f"Product code,Bureau of Meteorology station number,Year,Month,Day,{title}{extra}"
    lines = [head]
    for d, cell in zip(days, cells, strict=True):
        year, month, day = str(d).split("-")
        lines.append(f"{code},066999,{year},{month},{day},{cell}")
    return _rows(lines, "\r\n")


def bureau_rain():
    _, v = truth()
    extra = ",Period over which rainfall was measured (days),Quality"
    cells = [f"{r:.1f},{'1' if i % 2 else ''},Y" for i, r in enumerate(v["rain"])]
    return _bureau("IDCJAC0009", "Rainfall amount (millimetres)", extra, cells)


def bureau_tmax():
    _, v = truth()
    extra = ",Days of accumulation of maximum temperature,Quality"
    cells = [f"{t:.1f},1,Y" for t in v["tmax"]]
    return _bureau("IDCJAC0010", "Maximum temperature (Degree C)", extra, cells)


def bureau_tmin():
    _, v = truth()
    extra = ",Days of accumulation of minimum temperature,Quality"
    cells = [f"{t:.1f},1,Y" for t in v["tmin"]]
    return _bureau("IDCJAC0011", "Minimum temperature (Degree C)", extra, cells)


def bureau_month():
    days, v = truth()
    lines = [
        '"Daily Weather Observations for Hill Farm, Nowhere for February 2019"',
        '"Prepared at 06:32 UTC on 1 March 2019"',
        '"Copyright"',
        '"Observations were drawn from Hill Farm {station 066999}"',
        "",
        ',"Date","Minimum temperature (\u00b0C)","Maximum temperature (\u00b0C)","Rainfall (mm)",'
        '"Evaporation (mm)","Sunshine (hours)","Direction of maximum wind gust ",'
        '"9am Temperature (\u00b0C)","9am relative humidity (%)","9am wind speed (km/h)",'
        '"3pm relative humidity (%)","3pm wind speed (km/h)"',
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        year, month, day = str(d).split("-")
        lines.append(f",{year}-{month}-{int(day)},{b:.1f},{a:.1f},{r:.1f},,5.5,NW,,70,Calm,50,18")
    return ("\r\n".join(lines) + "\r\n").encode("latin-1")


def german():
    days, v = truth()
    lines = [
        "STATIONS_ID;MESS_DATUM;QN_3;  FX;  FM;QN_4; RSK;RSKF; SDK;SHK_TAG;  NM; VPM;  PM; TMK;"
        " UPM; TXK; TNK; TGK;eor"
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        date = str(d).replace("-", "")
        lines.append(
            f"         44;{date};-999;-999;   2.5;    3;{r:6.1f};   6;   3.100;   0;-999;   6.8;"
            f"    -999;{(a + b) / 2:7.1f};   61.54;{a:7.1f};{b:7.1f};   -5.8;eor"
        )
    return _rows(lines, "\r\n")


def canadian():
    days, v = truth()
    lines = [
        '"Longitude (x)","Latitude (y)","Station Name","Climate ID","Date/Time","Year","Month",'
        '"Day","Data Quality","Max Temp (\u00b0C)","Max Temp Flag","Min Temp (\u00b0C)",'
        '"Min Temp Flag","Total Rain (mm)","Total Rain Flag","Total Precip (mm)",'
        '"Total Precip Flag","Spd of Max Gust (km/h)"'
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        year, month, day = str(d).split("-")
        lines.append(
            f'"-80.0","48.0","HILL FARM","999","{d}","{year}","{month}","{day}","","{a:.1f}","",'
            f'"{b:.1f}","","","","{r:.1f}","","<31"'
        )
    return b"\xef\xbb\xbf" + _rows(lines)


def _european(element, name):
    days, v = truth()
    lines = ["EUROPEAN SET, AN INVENTED FILE", "", "01-06 STAID: station", "FILE FORMAT", ""]
    lines.append(f"STAID, SOUID,    DATE,   {element}, Q_{element}")
    for d, value in zip(days, _tenths(v[name]), strict=True):
        lines.append(f"  999,999999,{str(d).replace('-', '')},{value.rjust(5)},    0")
    return _rows(lines, "\r\n")


def european_rain():
    return _european("RR", "rain")


def european_tmax():
    return _european("TX", "tmax")


def european_tmin():
    return _european("TN", "tmin")


def french():
    days, v = truth()
    lines = ["NUM_POSTE;NOM_USUEL;LAT;LON;ALTI;AAAAMMJJ;RR;QRR;TN;QTN;TX;QTX"]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        date = str(d).replace("-", "")
        lines.append(f"99999001;FERME;48.0;2.0;200;{date};{r:.1f};1;{b:.1f};1;{a:.1f};1")
    return _rows(lines)


def dutch():
    days, v = truth()
    lines = [
        "# SOURCE: an invented file",
        "# STN      LON(east)   LAT(north)  ALT(m)      NAME",
        "# STN,YYYYMMDD,   FG,   TN,   TX,   RH,   UG",
    ]
    for d, a, b, r in zip(days, *map(_tenths, v.values()), strict=True):
        date = str(d).replace("-", "")
        lines.append(f"  999,{date},   35,{b.rjust(5)},{a.rjust(5)},{r.rjust(5)},   75")
    return _rows(lines, "\r\n")


def uk_rain():
    days, v = truth()
    lines = [
        "Conventions,G,BADC-CSV,1",
        "observation_station,G,hill-farm",
        "location,G,48.0,-2.0",
        "height,G,200,m",
        "data",
        "ob_date,id,id_type,version_num,ob_end_ctime,ob_day_cnt,src_id,prcp_amt,prcp_amt_q",
    ]
    for d, r in zip(days, v["rain"], strict=True):
        lines.append(f"{d} 00:00:00,999,RAIN,1,900,1,999,{r:.1f},6")
    return _rows([*lines, "end data"])


def uk_temperature():
    days, v = truth()
    lines = [
        "Conventions,G,BADC-CSV,1",
        "location,G,48.0,-2.0",
        "height,G,200,m",
        "data",
        "ob_end_time,id,version_num,ob_hour_count,src_id,max_air_temp,min_air_temp",
    ]
    for d, a, b in zip(days, v["tmax"], v["tmin"], strict=True):
        lines.append(f"{d} 09:00:00,999,1,12,999,NA,{b:.1f}")
        lines.append(f"{d} 21:00:00,999,1,12,999,{a:.1f},NA")
    return _rows([*lines, "end data"])


def model_days():
    """In the shape of a daily CSV of Open-Meteo."""
    days, v = truth()
    lines = [
        "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation",
        "48.0,16.0,200.0,3600,Europe/Vienna,GMT+1",
        "",
        "time,temperature_2m_max (°C),temperature_2m_min (°C),precipitation_sum (mm)",
    ]
    lines += [f"{d},{a:.1f},{b:.1f},{r:.2f}" for d, a, b, r in zip(days, *v.values(), strict=True)]
    return _rows(lines)


def days_of_the_year():
    """In the shape of NASA POWER."""
    days, v = truth()
    lines = [
        "-BEGIN HEADER-",
        "Location: latitude  48.0   longitude 16.0 ",
        "elevation from MERRA-2: Average for 0.5 x 0.625 degree lat/lon region = 200.0 meters",
        "-END HEADER-",
        "YEAR,DOY,T2M_MAX,T2M_MIN,PRECTOTCORR",
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        of_year = int((d - d.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)) + 1
        lines.append(f"{str(d)[:4]},{of_year},{a:.2f},{b:.2f},{r:.2f}")
    return _rows(lines)


def without_a_header():
    """In the shape of the Polish synoptic days, a quality mark after each value."""
    days, v = truth()
    lines = []
    for d, a, b, r in zip(days, *v.values(), strict=True):
        date = '","'.join(str(d).split("-"))
        lines.append(
            f'"354160105","HILL","{date}",{a:.1f},"",{b:.1f},"",{a:.1f},"",0.0,"",{r:.1f},"","W",'
            '0,"9",.0,"9",3.1,""'
        )
    return _rows(lines)


def fixed_widths():
    """In the shape of the older files of the global summary of the day."""
    days, v = truth()
    lines = [
        "STN--- WBAN   YEARMODA    TEMP       DEWP      SLP        STP       VISIB      WDSP     "
        "MXSPD   GUST    MAX     MIN   PRCP   SNDP   FRSHTT"
    ]
    for d, a, b, r in zip(days, *v.values(), strict=True):
        a, b, date = a * 1.8 + 32, b * 1.8 + 32, str(d).replace("-", "")
        lines.append(
            f"722874 93134  {date}  {(a + b) / 2:6.1f} 24  {b - 4:6.1f} 24  1019.1 19  1012.6 24  "
            f"  5.0 24    5.7 24    5.1  999.9  {a:6.1f}  {b:6.1f}  {r / 25.4:5.2f}G 999.9  000000"
        )
    return _rows(lines)


def lists_beside_time():
    """In the shape of daily JSON of Open-Meteo."""
    days, v = truth()
    names = ("temperature_2m_max", "temperature_2m_min", "precipitation_sum")
    daily = {"time": [str(d) for d in days]}
    daily |= {n: x.tolist() for n, x in zip(names, v.values(), strict=True)}
    units = dict(zip(names, ("°C", "°C", "mm"), strict=True))
    place = {"latitude": 48.0, "longitude": 16.0, "elevation": 200.0, "utc_offset_seconds": 3600}
    data = {**place, "daily_units": units, "daily": daily}
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode()


# name -> (files that make one station, tolerance of temperature and rain)
STATIONS = {
    "plain": ((plain,), 1e-9, 1e-9),
    "hourly": ((hourly,), 1e-9, 1e-9),
    "ghcn_station": ((ghcn_station,), 1e-9, 1e-9),
    "ghcn_ordered": ((ghcn_ordered,), 1e-9, 1e-9),
    "ghcn_ordered_standard": ((ghcn_ordered_standard,), 0.3, 0.13),
    "ghcn_list": ((ghcn_list,), 1e-9, 1e-9),
    "ghcn_list_bare": ((ghcn_list_bare,), 1e-9, 1e-9),
    "ghcn_fixed": ((ghcn_fixed,), 1e-9, 1e-9),
    "summary_of_day": ((summary_of_day,), 0.03, 0.13),
    "local_climate": ((local_climate,), 0.3, 0.13),
    "bureau": ((bureau_rain, bureau_tmax, bureau_tmin), 1e-9, 1e-9),
    "bureau_month": ((bureau_month,), 1e-9, 1e-9),
    "german": ((german,), 1e-9, 1e-9),
    "canadian": ((canadian,), 1e-9, 1e-9),
    "european": ((european_rain, european_tmax, european_tmin), 1e-9, 1e-9),
    "french": ((french,), 1e-9, 1e-9),
    "dutch": ((dutch,), 1e-9, 1e-9),
    "model_days": ((model_days,), 1e-9, 1e-9),
    "days_of_the_year": ((days_of_the_year,), 1e-9, 1e-9),
    "without_a_header": ((without_a_header,), 1e-9, 1e-9),
    "fixed_widths": ((fixed_widths,), 0.03, 0.13),
    "lists_beside_time": ((lists_beside_time,), 1e-9, 1e-9),
    "uk": ((uk_rain, uk_temperature), 1e-9, 1e-9),
}
MORNING = {"ghcn_station", "bureau", "bureau_month", "uk"}
"""Formats whose rain under a date fell on the day before."""
