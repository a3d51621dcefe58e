"""The heap as two zones, the material put into it, and what is done to it: EQUATIONS.md, "State", "Material
put in", "Geometry" and "Events". Masses in kg, volumes in m³, temperatures in °C."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from typing import Any, NamedTuple


@dataclass(frozen=True)
class Cardinal:
    """Cardinal temperatures of growth, °C."""

    min_c: float
    opt_c: float
    max_c: float


@dataclass(frozen=True)
class Parameters:
    """The constants that EQUATIONS.md sets in code type."""

    fast_per_day: float
    slow_per_day: float
    resistant_per_day: float
    growth_per_day: float
    compost: Cardinal
    fungal: Cardinal
    heat_kj_kg: float
    oxygen_kg_kg: float
    metabolic_water_kg_kg: float
    air_flow_kg_m2_day: float
    buoyancy: float
    core_air_share: float
    exhaust_through_edge: float
    rain_intake: float
    air_humidity: float
    drying_kg_kg: float
    edge_m: float
    core_path: float
    conductivity_base: float
    conductivity_water: float
    conductivity_solid: float
    field_capacity_kg_kg: float
    drainage_per_day: float
    drainage_into_core: float
    settling_per_day: float
    fine_dry_density_kg_m3: float
    overburden_kpa: float
    matting_loss: float
    ammonia_share: float
    ammonia_c_to_n: float
    ammonia_width: float
    turn_fluff: float
    turn_cooling: float
    firming_loss: float

    @classmethod
    def read(cls, given: dict[str, Any]) -> Parameters:
        """From JSON; a field too many or too few is an error."""
        cardinals = {name: Cardinal(**given[name]) for name in ("compost", "fungal")}
        return cls(**{**given, **cardinals})


@dataclass
class Zone:
    """One zone's matter. `carbon` is κ, kg C per kg volatile solids."""

    fast: float = 0.0
    slow: float = 0.0
    resistant: float = 0.0
    ash: float = 0.0
    water: float = 0.0
    temperature: float = 0.0
    carbon: float = 0.0

    @property
    def volatile(self) -> float:
        """VS."""
        return self.fast + self.slow + self.resistant

    @property
    def degradable(self) -> float:
        """F + S."""
        return self.fast + self.slow

    @property
    def dry(self) -> float:
        """D."""
        return self.volatile + self.ash

    @property
    def capacity(self) -> float:
        """Heat capacity, kJ/K."""
        return 1.48 * self.dry - 0.64 * self.ash + 4.18 * self.water

    def share(self, share: float) -> Zone:
        """A share of it, at its temperature and carbon content."""
        scaled = {name: getattr(self, name) * share for name in ("fast", "slow", "resistant", "ash", "water")}
        return dataclasses.replace(self, **scaled)


def mixed(a: Zone, b: Zone) -> Zone:
    """Two lots put together: temperature by heat capacity, carbon content by volatile solids."""
    capacity, volatile = a.capacity + b.capacity, a.volatile + b.volatile
    return Zone(
        fast=a.fast + b.fast,
        slow=a.slow + b.slow,
        resistant=a.resistant + b.resistant,
        ash=a.ash + b.ash,
        water=a.water + b.water,
        temperature=(a.temperature * a.capacity + b.temperature * b.capacity) / capacity
        if capacity > 0.0
        else a.temperature,
        carbon=(a.carbon * a.volatile + b.carbon * b.volatile) / volatile if volatile > 0.0 else 0.0,
    )


class Origin(NamedTuple):
    """What the matter still there was when it went in: O, U, G and Q."""

    dry: float = 0.0
    settled: float = 0.0
    degradable: float = 0.0
    matting: float = 0.0

    def scaled(self, share: float) -> Origin:
        """A share of it."""
        return Origin(*(share * part for part in self))

    def with_other(self, other: Origin) -> Origin:
        """Both together."""
        return Origin(*(one + two for one, two in zip(self, other, strict=True)))


@dataclass
class Heap:
    """The whole heap: `specific` is v, m³ per kg dry; `activity` is b; see "Rates of a zone" for the days."""

    core: Zone = field(default_factory=Zone)
    edge: Zone = field(default_factory=Zone)
    specific: float = 0.0
    nitrogen: float = 0.0
    activity: float = 0.0
    origin: Origin = Origin()
    effective_days: float = 0.0

    @property
    def degradable(self) -> float:
        """F + S."""
        return self.core.degradable + self.edge.degradable

    @property
    def dry(self) -> float:
        """D."""
        return self.core.dry + self.edge.dry

    @property
    def volume(self) -> float:
        """V."""
        return self.specific * self.dry

    @property
    def water(self) -> float:
        """Water of both zones."""
        return self.core.water + self.edge.water


@dataclass(frozen=True)
class Lot:
    """Material on its way in, with its loose volume and its activity b."""

    matter: Zone
    nitrogen: float
    loose: float
    activity: float
    origin: Origin


def mixed_activity(a: float, degradable_a: float, b: float, degradable_b: float) -> float:
    """Activity of two lots put together: by F + S; of the first where neither has any."""
    degradable = degradable_a + degradable_b
    return (a * degradable_a + b * degradable_b) / degradable if degradable > 0.0 else a


FRESH_ACTIVITY = 0.053
SHREDDED_DENSITY = 1.3
SETTLED = {"porous": 0.85, "mixed": 0.59, "matting": 0.47}


def lot(row: dict[str, Any], mass: float, moisture: float | None, shredded: bool, temperature: float) -> Lot:
    """`mass` kg of the feedstock of a table row, with its own moisture where given."""
    own_moisture = row["moisture_fraction"] if moisture is None else moisture
    dry = mass * (1.0 - own_moisture)
    volatile = dry * (1.0 - row["ash_fraction"])
    nitrogen = dry * row["nitrogen_fraction"]
    fast, slow = row["fast_fraction"] * volatile, row["slow_fraction"] * volatile
    matter = Zone(
        fast=fast,
        slow=slow,
        resistant=volatile - fast - slow,
        ash=dry - volatile,
        water=mass * own_moisture,
        temperature=temperature,
        carbon=nitrogen * row["c_to_n"] / volatile if volatile > 0.0 else 0.0,
    )
    structure = row.get("structure", "mixed")
    if shredded and structure == "porous":
        structure = "mixed"
    density = row["bulk_density_kg_m3"] * (SHREDDED_DENSITY if shredded else 1.0)
    loose = dry / (density * (1.0 - row["moisture_fraction"]))
    origin = Origin(dry, loose * SETTLED[structure], fast + slow, dry if structure == "matting" else 0.0)
    return Lot(matter, nitrogen, loose, FRESH_ACTIVITY, origin)


def lot_of_volume(
    row: dict[str, Any], loose: float, moisture: float | None, shredded: bool, temperature: float
) -> Lot:
    """The same by its loose volume, m³."""
    one_kilogram = lot(row, 1.0, moisture, shredded, temperature)
    return lot(row, loose / one_kilogram.loose, moisture, shredded, temperature)


def together(lots: list[Lot]) -> Lot:
    """Lots of one moment, put together before they go in."""
    first, *rest = lots
    for other in rest:
        first = Lot(
            mixed(first.matter, other.matter),
            first.nitrogen + other.nitrogen,
            first.loose + other.loose,
            mixed_activity(first.activity, first.matter.degradable, other.activity, other.matter.degradable),
            first.origin.with_other(other.origin),
        )
    return first


class CoreBox(NamedTuple):
    """The core's sides and the thickness of the edge around it, m."""

    length: float
    width: float
    height: float
    edge: float

    @property
    def volume(self) -> float:
        """m³."""
        return self.length * self.width * self.height

    @property
    def surface(self) -> float:
        """Σ, m²."""
        return 2.0 * (self.length * self.width + self.length * self.height + self.width * self.height)


def core_box(volume: float, length: float, width: float, edge_m: float) -> CoreBox:
    """The core of a heap of `volume` m³ in a bay of `length` by `width` m."""
    height = volume / (length * width)
    edge = min(edge_m, min(length, width, height) / 4.0)
    return CoreBox(length - 2.0 * edge, width - 2.0 * edge, height - 2.0 * edge, edge)


def deal(heap: Heap, length: float, width: float, edge_m: float) -> None:
    """Moves matter between the zones until the core holds its share φ of the dry mass."""
    share = core_box(heap.volume, length, width, edge_m).volume / heap.volume
    wanted = share * heap.dry
    if heap.core.dry < wanted:
        part = (wanted - heap.core.dry) / heap.edge.dry
        heap.core = mixed(heap.core, heap.edge.share(part))
        heap.edge = heap.edge.share(1.0 - part)
    elif heap.core.dry > wanted:
        part = (heap.core.dry - wanted) / heap.core.dry
        heap.edge = mixed(heap.edge, heap.core.share(part))
        heap.core = heap.core.share(1.0 - part)


def add(heap: Heap | None, lot_in: Lot) -> Heap:
    """The heap with a lot laid into its edge, not yet dealt."""
    if heap is None:
        return Heap(
            edge=lot_in.matter,
            specific=lot_in.loose / lot_in.matter.dry,
            nitrogen=lot_in.nitrogen,
            activity=lot_in.activity,
            origin=lot_in.origin,
        )
    edge = mixed(heap.edge, lot_in.matter)
    specific = (heap.volume + lot_in.loose) / (heap.core.dry + edge.dry)
    return dataclasses.replace(
        heap,
        edge=edge,
        specific=specific,
        nitrogen=heap.nitrogen + lot_in.nitrogen,
        activity=mixed_activity(heap.activity, heap.degradable, lot_in.activity, lot_in.matter.degradable),
        origin=heap.origin.with_other(lot_in.origin),
    )


def turn(heap: Heap, air: float, parameters: Parameters) -> None:
    """Zones mixed, cooled towards the air and fluffed; both alike, not yet dealt."""
    whole = mixed(heap.core, heap.edge)
    whole.temperature -= parameters.turn_cooling * (whole.temperature - air)
    heap.core, heap.edge = Zone(temperature=whole.temperature), whole
    heap.specific *= parameters.turn_fluff


def merge_mixed(heap: Heap, other: Heap) -> None:
    """Zone with zone, not yet turned."""
    volume, dry = heap.volume + other.volume, heap.dry + other.dry
    heap.activity = mixed_activity(heap.activity, heap.degradable, other.activity, other.degradable)
    heap.core, heap.edge = mixed(heap.core, other.core), mixed(heap.edge, other.edge)
    heap.specific = volume / dry
    heap.nitrogen += other.nitrogen
    heap.origin = heap.origin.with_other(other.origin)


def pore_room(heap: Heap) -> float:
    """Water that the edge's pores can still take, kg."""
    edge = heap.edge
    pores = heap.specific * edge.dry - edge.volatile / 1000.0 - edge.ash / 2500.0
    return max(0.0, 1000.0 * pores - edge.water)


LEAST_DRY_KG_M2 = 0.2


def withdraw(heap: Heap, volume: float | None, floor: float) -> Heap | None:
    """What is left on `floor` m² when `volume` m³, or all, is taken out."""
    share = 1.0 if volume is None else volume / heap.volume
    if share > 0.999 or (1.0 - share) * heap.dry < LEAST_DRY_KG_M2 * floor:
        return None
    left = 1.0 - share
    return dataclasses.replace(
        heap,
        core=heap.core.share(left),
        edge=heap.edge.share(left),
        nitrogen=heap.nitrogen * left,
        origin=heap.origin.scaled(left),
    )


SEEN = {"dry": (0.32, 0.08), "crumbles": (0.45, 0.06), "damp": (0.57, 0.05), "drips": (0.70, 0.05)}
MEASURED_SD = 0.04
MODEL_SD = 0.07


def moisture_seen(percent: float | None, squeeze: str | None) -> tuple[float, float]:
    """Moisture that a note tells, and its standard deviation."""
    return (percent / 100.0, MEASURED_SD) if percent is not None else SEEN[squeeze or ""]


def note_moisture(heap: Heap, seen: float, deviation: float) -> None:
    """Moves the heap's moisture towards what was seen, by the weight of the two errors."""
    moisture = heap.water / (heap.water + heap.dry)
    gain = MODEL_SD**2 / (MODEL_SD**2 + deviation**2)
    moisture = min(max(moisture + gain * (seen - moisture), 0.05), 0.95)
    scale = moisture / (1.0 - moisture) * heap.dry / heap.water
    heap.core.water *= scale
    heap.edge.water *= scale
