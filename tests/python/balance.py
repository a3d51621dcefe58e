"""The balance of EQUATIONS.md a second time, integrated by scipy.integrate.solve_ivp.

Standard input: one JSON object a line, `{"parameters", "feedstocks", "history", "days"}`, days since
1970-01-01T00:00Z. Standard output: for each a JSON line, the list of states at those days, null where the bay
is empty; at an event's own moment the state before it. Standard error: seconds taken, in all.
"""

from __future__ import annotations

import dataclasses
import datetime
import itertools
import json
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy
from numpy.typing import NDArray
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

import heap as bulk
from climate import Climate, Weather
from heap import Heap, Parameters, Zone
from laws import Enclosure, change, enclosure

RELATIVE_TOLERANCE = 1e-8
# Per core F, S, R, W, T; the same of the edge; v; N; activity; effective days.
ABSOLUTE_TOLERANCE = [1e-9] * 10 + [1e-13, 1e-10, 1e-12, 1e-9]

# Events of one moment, in this order.
ORDER = (
    "reading",
    "moisture",
    "level",
    "withdrawal",
    "merge",
    "move",
    "addition",
    "turn",
    "watering",
    "firming",
    "cover",
)
BARROW_M3 = 0.085
EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)

Vector = NDArray[numpy.float64]


def days_of(moment: str) -> float:
    """Days since 1970-01-01T00:00Z; a date is its noon UTC."""
    text = moment if "T" in moment.upper() else f"{moment}T12:00:00Z"
    return (datetime.datetime.fromisoformat(text) - EPOCH) / datetime.timedelta(days=1)


def to_vector(heap: Heap) -> list[float]:
    """What changes between two events."""
    c, e = heap.core, heap.edge
    zones = [
        c.fast,
        c.slow,
        c.resistant,
        c.water,
        c.temperature,
        e.fast,
        e.slow,
        e.resistant,
        e.water,
        e.temperature,
    ]
    return [*zones, heap.specific, heap.nitrogen, heap.activity, heap.effective_days]


def of_vector(y: Vector, at_start: Heap) -> Heap:
    """The heap of a vector; ash, carbon content and origin stay as they were at the start."""
    cf, cs, cr, cw, ct, ef, es, er, ew, et, specific, nitrogen, activity, effective = y.tolist()
    core = Zone(cf, cs, cr, at_start.core.ash, cw, ct, at_start.core.carbon)
    edge = Zone(ef, es, er, at_start.edge.ash, ew, et, at_start.edge.carbon)
    return Heap(core, edge, specific, nitrogen, activity, at_start.origin, effective)


def straight_line(climate: Climate, start: float, end: float) -> Callable[[float], Weather]:
    """The weather between neighbouring knots, from two points inside: a jump at an end is no matter."""
    first, last = start + 0.25 * (end - start), start + 0.75 * (end - start)
    one, two = climate.at(first), climate.at(last)
    air, rain = (two.air - one.air) / (last - first), (two.rain - one.rain) / (last - first)
    return lambda t: Weather(one.air + air * (t - first), one.rain + rain * (t - first))


def fills_up(entry: dict[str, Any]) -> bool:
    """Whether an addition's amount depends on what stands in the bay."""
    return "filled_to_fraction" in entry and not {"mass_kg", "volume_m3", "barrows"} & entry.keys()


class Course:
    """One history's run: forwards only, from moment to moment."""

    def __init__(self, history: dict[str, Any], table: list[dict[str, Any]], parameters: Parameters) -> None:
        self.history, self.table, self.parameters = history, table, parameters
        self.rows = {row["id"]: row for row in [*table, *history.get("feedstocks", [])]}
        self.climate = Climate(history["site"])
        self.bays = {bay["id"]: bay for bay in [history["bay"], *history.get("other_bays", [])]}
        self.bay: dict[str, Any] = history["bay"]
        self.covered = False
        self.heap: Heap | None = None
        # Too little to be a heap: waits for what comes next.
        self.waiting: list[bulk.Lot] = []
        self.now = float("-inf")

    def run(self, days: list[float], end: float) -> list[Heap | None]:
        """States at `days`, which ascend; leaves the course at `end`, after the events of that moment."""
        moments: dict[float, list[tuple[int, str, Any]]] = {}
        for event in self.history["events"]:
            (kind,) = (name for name in ORDER if name in event)
            moments.setdefault(days_of(event["at"]), []).append((ORDER.index(kind), kind, event[kind]))
        states: list[Heap | None] = []
        for moment in sorted(moment for moment in moments if moment <= end):
            states += self.integrate(moment, [day for day in days if self.now < day <= moment])
            ordered = sorted(moments[moment], key=lambda entry: entry[0])
            for kind, entries in itertools.groupby(ordered, key=lambda entry: entry[1]):
                getattr(self, kind)([entry[2] for entry in entries])
        return states + self.integrate(end, [day for day in days if self.now < day <= end])

    def integrate(self, end: float, days: list[float]) -> list[Heap | None]:
        """Runs to `end` without an event between; states at `days` on the way."""
        states: list[Heap | None] = []
        if self.heap is None or end <= self.now:
            states, self.now = [None] * len(days), end
            return states
        place = enclosure(self.bay, self.covered)
        for stop in [*self.climate.knots(self.now, end), end]:
            states += self.smooth_stretch(stop, [day for day in days if self.now < day <= stop], place)
        return states

    def smooth_stretch(self, end: float, days: list[float], place: Enclosure) -> list[Heap]:
        """Runs to `end` with weather that is a straight line."""
        assert self.heap is not None
        at_start, weather, parameters = self.heap, straight_line(self.climate, self.now, end), self.parameters

        def slope(t: float, y: Vector) -> list[float]:
            d = change(of_vector(y, at_start), place, weather(t), parameters)
            core = [d.core.fast, d.core.slow, d.core.resistant, d.core_water, d.core_temperature]
            edge = [d.edge.fast, d.edge.slow, d.edge.resistant, d.edge_water, d.edge_temperature]
            return [*core, *edge, d.specific, d.nitrogen, d.activity, d.effective_days]

        solution = solve_ivp(
            slope,
            (self.now, end),
            to_vector(at_start),
            method="LSODA",
            rtol=RELATIVE_TOLERANCE,
            atol=ABSOLUTE_TOLERANCE,
            dense_output=True,
        )
        if not solution.success:
            raise ArithmeticError(f"{self.history['batch']}, day {self.now}: {solution.message}")
        self.heap, self.now = of_vector(solution.y[:, -1], at_start), end
        return [of_vector(solution.sol(day), at_start) for day in days]

    def floor(self) -> float:
        """L·B of the bay it stands in, m²."""
        return float(self.bay["length_m"] * self.bay["width_m"])

    def air(self) -> float:
        """Air temperature now, °C."""
        return self.climate.at(self.now).air

    def deal(self) -> None:
        """Deals the heap into the bay it stands in."""
        if self.heap is not None:
            bulk.deal(self.heap, self.bay["length_m"], self.bay["width_m"], self.parameters.edge_m)

    def reading(self, entries: list[Any]) -> None:
        """A reading changes nothing."""

    def level(self, entries: list[Any]) -> None:
        """How high it was seen to stand changes nothing."""

    def moisture(self, entries: list[Any]) -> None:
        """Moisture notes, the lowest first."""
        notes = [bulk.moisture_seen(entry.get("percent"), entry.get("squeeze")) for entry in entries]
        for seen, deviation in sorted(notes):
            if self.heap is not None:
                bulk.note_moisture(self.heap, seen, deviation)

    def withdrawal(self, entries: list[Any]) -> None:
        """Compost taken out."""
        for entry in entries:
            if self.heap is not None:
                self.heap = bulk.withdraw(self.heap, entry.get("volume_m3"), self.floor())

    def merge(self, entries: list[Any]) -> None:
        """Other batches, each run through this moment in its own bay and weather."""
        for entry in entries:
            (source,) = (given for given in self.history["sources"] if given["batch"] == entry["source"])
            course = Course(source, self.table, self.parameters)
            course.run([], self.now)
            other = course.heap
            if other is None:
                continue
            if self.heap is None:
                bulk.turn(other, self.air(), self.parameters)
                self.heap = other
            elif entry.get("placement", "mixed") == "mixed":
                bulk.merge_mixed(self.heap, other)
                bulk.turn(self.heap, self.air(), self.parameters)
            else:
                bulk.turn(other, self.air(), self.parameters)
                whole = bulk.mixed(other.core, other.edge)
                lot = bulk.Lot(whole, other.nitrogen, other.volume, other.activity, other.origin)
                self.heap = bulk.add(self.heap, lot)
            self.deal()

    def move(self, entries: list[Any]) -> None:
        """Forked into another bay, which is not covered; without a heap nothing moves."""
        for entry in entries:
            if self.heap is not None:
                self.bay, self.covered = self.bays[entry["to_bay"]], False
                self.turn([{}])

    def addition(self, entries: list[Any]) -> None:
        """Material of one moment, put together and then in; after it fills up to marks, the lowest first."""
        fills = sorted(
            (entry for entry in entries if fills_up(entry)), key=lambda entry: entry["filled_to_fraction"]
        )
        for batch in [[entry for entry in entries if not fills_up(entry)], *([fill] for fill in fills)]:
            lots = [lot for lot in map(self.lot, batch) if lot.matter.dry > 0.0]
            if not lots:
                continue
            lot, self.waiting = bulk.together([*lots, *self.waiting]), []
            if self.heap is None and lot.matter.dry < bulk.LEAST_DRY_KG_M2 * self.floor():
                self.waiting = [lot]
            else:
                self.heap = bulk.add(self.heap, lot)
                self.deal()

    def lot(self, entry: dict[str, Any]) -> bulk.Lot:
        """One addition's material."""
        row, moisture = self.rows[entry["feedstock"]], entry.get("moisture_fraction")
        shredded = entry.get("preparation") == "shredded"
        temperature = entry.get("temperature_c", self.air())
        if "mass_kg" in entry:
            return bulk.lot(row, entry["mass_kg"], moisture, shredded, temperature)
        return bulk.lot_of_volume(row, self.loose(entry), moisture, shredded, temperature)

    def loose(self, entry: dict[str, Any]) -> float:
        """Loose volume of an addition whose mass was not given, m³."""
        capacity = self.bay["length_m"] * self.bay["width_m"] * self.bay["height_m"]
        if "volume_m3" in entry:
            return float(entry["volume_m3"])
        if "barrows" in entry:
            return float(entry["barrows"] * self.history.get("barrow_m3", BARROW_M3))
        if "filled_to_fraction" in entry:
            standing = self.heap.volume if self.heap is not None else 0.0
            return float(max(0.0, entry["filled_to_fraction"] * capacity - standing))
        return float(0.1 * capacity)

    def turn(self, entries: list[Any]) -> None:
        """Turned within the bay."""
        for _ in entries:
            if self.heap is not None:
                bulk.turn(self.heap, self.air(), self.parameters)
                self.deal()

    def watering(self, entries: list[Any]) -> None:
        """Water at the air's temperature, into the edge as far as its pores hold it."""
        for entry in entries:
            if self.heap is not None:
                taken = min(entry["litres"], bulk.pore_room(self.heap))
                self.heap.edge = bulk.mixed(self.heap.edge, Zone(water=taken, temperature=self.air()))

    def firming(self, entries: list[Any]) -> None:
        """Trodden down."""
        for _ in entries:
            if self.heap is not None:
                shrunk = self.heap.specific * (1.0 - self.parameters.firming_loss)
                self.heap = dataclasses.replace(self.heap, specific=shrunk)

    def cover(self, entries: list[Any]) -> None:
        """Cover on or off from now on."""
        self.covered = entries[-1]["state"] == "on"


def as_json(heap: Heap | None) -> dict[str, float] | None:
    """One state as it is answered."""
    if heap is None:
        return None
    return {
        "core_c": heap.core.temperature,
        "edge_c": heap.edge.temperature,
        "core_dry_kg": heap.core.dry,
        "edge_dry_kg": heap.edge.dry,
        "core_water_kg": heap.core.water,
        "edge_water_kg": heap.edge.water,
        "volume_m3": heap.volume,
        "nitrogen_kg": heap.nitrogen,
        "effective_days": heap.effective_days,
    }


def main() -> None:
    """Answers every line."""
    taken = 0.0
    for line in sys.stdin:
        if not line.strip():
            continue
        asked = json.loads(line)
        start = time.perf_counter()
        course = Course(asked["history"], asked["feedstocks"], Parameters.read(asked["parameters"]))
        states = [as_json(state) for state in course.run(asked["days"], max(asked["days"]))]
        taken += time.perf_counter() - start
        print(json.dumps(states), flush=True)
    print(f"{taken:.6f}", file=sys.stderr)


if __name__ == "__main__":
    main()
