"""Air temperature and rain at a site: EQUATIONS.md, "Weather". Time in days since 1970-01-01T00:00Z."""

from __future__ import annotations

import bisect
import datetime
import math
from typing import Any, NamedTuple

YEAR = 365.25
MONTHS = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)
MID_MONTHS = tuple(sum(MONTHS[:month]) + MONTHS[month] / 2.0 for month in range(12))


class Weather(NamedTuple):
    """Air temperature, °C, and rain, mm/day."""

    air: float
    rain: float


def between(a: Weather, b: Weather, share: float) -> Weather:
    """On the straight line from `a` to `b`."""
    return Weather(a.air + share * (b.air - a.air), a.rain + share * (b.rain - a.rain))


def assumed_air(latitude: float, month: int) -> float:
    """Mean air temperature of a month where no normals are given, °C."""
    warm = 6.5 if latitude >= 0.0 else 0.5
    size = abs(latitude)
    return 26.0 - 0.31 * size + 0.13 * size * math.cos(2.0 * math.pi * (month + 0.5 - warm) / 12.0)


ASSUMED_RAIN = 60.0


class Climate:
    """A site's normals and its days."""

    def __init__(self, site: dict[str, Any]) -> None:
        normals, latitude = site.get("normals"), site["latitude_deg"]
        air = normals["mean_air_c"] if normals else [assumed_air(latitude, month) for month in range(12)]
        rain = normals["rain_mm"] if normals else [ASSUMED_RAIN] * 12
        self.months = [Weather(air[month], rain[month] / MONTHS[month]) for month in range(12)]
        self.days: dict[int, Weather] = {}
        for row in site.get("daily", []):
            day = (datetime.date.fromisoformat(row["date"]) - datetime.date(1970, 1, 1)).days
            fallen = row.get("rain_mm")
            self.days[day] = Weather(
                row["mean_air_c"], self.normal(day + 0.5).rain if fallen is None else fallen
            )

    def normal(self, t: float) -> Weather:
        """The normals at `t`."""
        place = t % YEAR
        after = bisect.bisect_right(MID_MONTHS, place)
        before = after - 1
        start = MID_MONTHS[before] if before >= 0 else MID_MONTHS[11] - YEAR
        end = MID_MONTHS[after] if after < 12 else MID_MONTHS[0] + YEAR
        return between(self.months[before % 12], self.months[after % 12], (place - start) / (end - start))

    def at(self, t: float) -> Weather:
        """The weather at `t`: of the days where they reach, else the normals."""
        today = self.days.get(math.floor(t))
        if today is None:
            return self.normal(t)
        past_noon = t - (math.floor(t) + 0.5)
        neighbour = self.days.get(math.floor(t) + (1 if past_noon >= 0.0 else -1))
        return today if neighbour is None else between(today, neighbour, abs(past_noon))

    def knots(self, start: float, end: float) -> list[float]:
        """Where the straight lines of the weather meet or jump between `start` and `end`, ends apart."""
        years = range(math.floor(start / YEAR), math.floor(end / YEAR) + 1)
        places = {year * YEAR + middle for year in years for middle in MID_MONTHS}
        for day in self.days:
            places.update((float(day), day + 0.5, day + 1.0))
        return sorted(place for place in places if start < place < end)
