"""Sun and moon by PyEphem: positions without refraction, and the day's times."""
import datetime as dt
import math
import sys

import ephem

PLACES = [(0.0, -80.0), (25.76, -80.19), (-33.9, 18.4), (45.0, -124.0), (60.2, 5.0), (69.65, 18.96)]
out = sys.argv[1]
UTC = dt.timezone.utc


def observer(lat, lon, when, horizon="0"):
    o = ephem.Observer()
    o.lat, o.lon, o.pressure, o.elevation = str(lat), str(lon), 0, 0
    o.horizon, o.date = horizon, ephem.Date(when.replace(tzinfo=None))
    return o


def deg(a):
    return f"{math.degrees(a):.4f}"


def event(o, kind, body, start, centre):
    """Seconds after start, empty where it does not happen within a day."""
    try:
        t = getattr(o, "next_" + kind)(body, use_center=centre)
    except (ephem.AlwaysUpError, ephem.NeverUpError):
        return ""
    t = t.datetime().replace(tzinfo=UTC)
    seconds = (t - start).total_seconds()
    return f"{seconds:.0f}" if seconds < 86400 else ""


with open(out + "/ephem-positions.csv", "w") as f:
    f.write("lat,lon,time,sun_elevation,sun_azimuth,moon_elevation,moon_azimuth\n")
    for i, (lat, lon) in enumerate(PLACES):
        for n in range(60):  # every 61 days and a bit, through the hours
            t = dt.datetime(2020, 1, 3, tzinfo=UTC) + dt.timedelta(days=61 * n, hours=5 * n + 3 * i, minutes=7 * n)
            o = observer(lat, lon, t)
            sun, moon = ephem.Sun(o), ephem.Moon(o)
            f.write(",".join([str(lat), str(lon), t.strftime("%Y-%m-%dT%H:%M:%SZ"),
                              deg(sun.alt), deg(sun.az), deg(moon.alt), deg(moon.az)]) + "\n")

with open(out + "/ephem-days.csv", "w") as f:
    f.write("lat,lon,start,sun_rise,sun_set,civil_dawn,civil_dusk,moon_rise,moon_set\n")
    for i, (lat, lon) in enumerate(PLACES):
        for n in range(40):
            day = dt.date(2020, 1, 5) + dt.timedelta(days=91 * n + 5 * i)
            start = dt.datetime(day.year, day.month, day.day, tzinfo=UTC) - dt.timedelta(hours=round(lon / 15))
            row = [str(lat), str(lon), start.strftime("%Y-%m-%dT%H:%M:%SZ")]
            for body, horizon, centre in ((ephem.Sun, "-0:34", False), (ephem.Sun, "-6", True), (ephem.Moon, "-0:34", False)):
                for kind in ("rising", "setting"):
                    row.append(event(observer(lat, lon, start, horizon), kind, body(), start, centre))
            f.write(",".join(row) + "\n")
