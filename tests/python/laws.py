"""The right-hand side of the balance: EQUATIONS.md, "Rates of a zone" to "Nitrogen". One function a law.

Time in days; kg, m³, °C; powers in kJ/day (1 W = 86.4 kJ/day)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from climate import Weather
from heap import Cardinal, CoreBox, Heap, Parameters, Zone, core_box

GRAVITY = 9.80665
KJ_DAY_PER_W = 86.4
OXYGEN_OF_AIR_PERCENT = 20.95
OXYGEN_OF_AIR_MASS = 0.2314

SIDE_OPENNESS = {
    "thin_plastic": 0.25,
    "block": 0.1,
    "cardboard_lined": 0.43,
    "timber_boards": 0.1,
    "straw_bale": 0.4,
    "slatted_timber": 0.7,
    "open_heap": 1.0,
}
TOP_OPENNESS = {"open": 1.0, "roofed": 1.0, "lidded": 0.4}
BASE_OPENNESS = {"soil": 0.3, "slab": 0.1}
# Thickness, m, and conductivity, W/(m K), from the inside out.
LAYERS: dict[str, list[tuple[float, float]]] = {
    "thin_plastic": [(0.003, 0.45)],
    "slatted_timber": [(0.015, 0.13)],
    "timber_boards": [(0.035, 0.13)],
    "cardboard_lined": [(0.015, 0.06), (0.015, 0.13)],
    "straw_bale": [(0.45, 0.06)],
    "block": [(0.1, 1.4)],
    "open_heap": [],
}
TOP_RESISTANCE = {"open": 0.1, "roofed": 0.12, "lidded": 0.27}
BASE_RESISTANCE = {"soil": 0.5, "slab": 0.3}


@dataclass(frozen=True)
class Enclosure:
    """A bay as the laws see it: inside size in m, openness, resistances in m² K/W, rain let in or not."""

    length: float
    width: float
    height: float
    side_openness: float
    top_openness: float
    base_openness: float
    side_resistance: float
    top_resistance: float
    base_resistance: float
    rained_on: bool

    @property
    def floor(self) -> float:
        """L·B, m²."""
        return self.length * self.width


def enclosure(bay: dict[str, Any], covered: bool) -> Enclosure:
    """A bay with its cover on or off."""
    wall, top, base = bay["wall"], bay.get("top", "open"), bay.get("base", "soil")
    own = [(layer["thickness_m"], layer["conductivity_w_m_k"]) for layer in wall.get("layers", [])]
    layers = own or LAYERS[wall["construction"]]
    return Enclosure(
        length=bay["length_m"],
        width=bay["width_m"],
        height=bay["height_m"],
        side_openness=SIDE_OPENNESS[wall["construction"]],
        top_openness=TOP_OPENNESS[top] * (0.5 if covered else 1.0),
        base_openness=BASE_OPENNESS[base],
        side_resistance=sum(thickness / conductivity for thickness, conductivity in layers) + 1.0 / 8.0,
        top_resistance=TOP_RESISTANCE[top] + (0.1 if covered else 0.0),
        base_resistance=BASE_RESISTANCE[base],
        rained_on=top == "open" and not covered,
    )


def growth(t: float, at: Cardinal) -> float:
    """Cardinal temperature function g (Rosso and others 1993)."""
    low, best, high = at.min_c, at.opt_c, at.max_c
    if t <= low or t >= high:
        return 0.0
    below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))
    return (t - high) * (t - low) ** 2 / below


def moisture_factor(moisture: float) -> float:
    """f_M (Haug 1993)."""
    return 1.0 / (1.0 + math.exp(7.0622 - 17.684 * moisture))


def air_space_factor(air_space: float) -> float:
    """f_A (Haug 1993)."""
    return 1.0 / (1.0 + math.exp(3.4945 - 23.675 * air_space))


def air_space(zone: Zone, heap: Heap, parameters: Parameters) -> float:
    """Air space a of a zone, less where the heap mats."""
    filled = zone.water / 1000.0 + zone.volatile / 1000.0 + zone.ash / 2500.0
    matted = 1.0 - parameters.matting_loss * heap.origin.matting / heap.origin.dry
    return matted * max(0.0, 1.0 - filled / (heap.specific * zone.dry))


def pore_oxygen(flow: float, demand: float) -> float:
    """Pore oxygen y, % by volume: the positive root of s(20.95 − y)(y + 2) = o·y, s = 0.2314 q/20.95."""
    if demand <= 0.0:
        return OXYGEN_OF_AIR_PERCENT
    supply = flow * OXYGEN_OF_AIR_MASS / OXYGEN_OF_AIR_PERCENT
    if supply <= 0.0:
        return 0.0
    # y² + b·y − c = 0; written so that nothing cancels whichever sign b has.
    b, c = demand / supply + 2.0 - OXYGEN_OF_AIR_PERCENT, 2.0 * OXYGEN_OF_AIR_PERCENT
    root = math.sqrt(b * b + 4.0 * c)
    return 2.0 * c / (root + b) if b > 0.0 else (root - b) / 2.0


class Decay(NamedTuple):
    """Rates of a zone's pools, kg/day and negative; its g; the pace at which its effective days grow."""

    fast: float
    slow: float
    resistant: float
    growth: float
    pace: float

    @property
    def loss(self) -> float:
        """r, kg/day and positive."""
        return -(self.fast + self.slow + self.resistant)


def decay(zone: Zone, activity: float, space: float, flow: float, parameters: Parameters) -> Decay:
    """First-order decay of the pools, slowed by cold, drought, lack of pores and lack of oxygen; of the
    degradable pools also by how far the community that does the work has grown."""
    g, fungal = growth(zone.temperature, parameters.compost), growth(zone.temperature, parameters.fungal)
    factor = moisture_factor(zone.water / (zone.water + zone.dry)) * air_space_factor(space)
    fast = parameters.fast_per_day * zone.fast * activity * g * factor
    slow = parameters.slow_per_day * zone.slow * activity * g * factor
    resistant = parameters.resistant_per_day * zone.resistant * fungal * factor
    oxygen = pore_oxygen(flow, parameters.oxygen_kg_kg * (fast + slow + resistant))
    supplied = oxygen / (oxygen + 2.0)
    pace = activity * g * factor * supplied
    return Decay(-fast * supplied, -slow * supplied, -resistant * supplied, g, pace)


def activity_growth(activity: float, mean_growth: float, parameters: Parameters) -> float:
    """db, 1/day: logistic, at the pace of ḡ."""
    return parameters.growth_per_day * mean_growth * activity * (1.0 - activity)


def air_flow(
    heap: Heap, height: float, place: Enclosure, air: float, space: float, parameters: Parameters
) -> float:
    """Air through the whole heap, kg/day; `space` is the mean ā."""
    sides = 2.0 * (place.length + place.width) * height
    open_area = place.side_openness * sides + (place.top_openness + place.base_openness) * place.floor
    mean = (heap.core.temperature * heap.core.dry + heap.edge.temperature * heap.edge.dry) / heap.dry
    lift = 1.0 + parameters.buoyancy * max(0.0, mean - air) / 40.0
    return parameters.air_flow_kg_m2_day * open_area * lift * space


def saturation_kpa(t: float) -> float:
    """Saturation pressure of water, kPa.

    Wagner & Pruss 2002, The IAPWS formulation 1995 for the thermodynamic properties of ordinary water
    substance, J. Phys. Chem. Ref. Data 31:387-535, eq. 2.5. Coefficients from memory; steam.py compares the
    other writing of it with IAPWS-IF97.
    """
    kelvin = t + 273.15
    theta = 1.0 - kelvin / 647.096
    series = (
        -7.85951783 * theta
        + 1.84408259 * theta**1.5
        - 11.7866497 * theta**3
        + 22.6807411 * theta**3.5
        - 15.9618719 * theta**4
        + 1.80122502 * theta**7.5
    )
    return 22064.0 * math.exp(647.096 / kelvin * series)


def saturated_humidity(t: float) -> float:
    """w_s, kg water per kg dry air; held to 95 °C."""
    pressure = saturation_kpa(min(t, 95.0))
    return 0.62198 * pressure / (101.325 - pressure)


def enthalpy(t: float, humidity: float) -> float:
    """h of moist air, kJ per kg dry air."""
    return 1.006 * t + humidity * (2501.0 + 1.86 * t)


def zone_humidity(zone: Zone, parameters: Parameters) -> float:
    """w of a zone's air: saturated, less where the matter is nearly dry."""
    wetness = max(0.0, zone.water) / zone.dry
    return saturated_humidity(zone.temperature) * (1.0 - math.exp(-wetness / parameters.drying_kg_kg))


def conductivity(heap: Heap, parameters: Parameters) -> float:
    """λ of the heap, W/(m K)."""
    volatile, ash = heap.core.volatile + heap.edge.volatile, heap.core.ash + heap.edge.ash
    return (
        parameters.conductivity_base
        + parameters.conductivity_water * min(1.0, heap.water / (1000.0 * heap.volume))
        + parameters.conductivity_solid * (volatile / 1000.0 + ash / 2500.0) / heap.volume
    )


def core_to_edge(box: CoreBox, lam: float, parameters: Parameters) -> float:
    """G_ce, W/K."""
    return box.surface * lam / (parameters.core_path * box.volume / box.surface + box.edge / 2.0)


def edge_to_air(box: CoreBox, height: float, place: Enclosure, lam: float) -> float:
    """G_ea, W/K."""
    within = box.edge / 2.0 / lam
    sides = 2.0 * (place.length + place.width) * height
    return (
        sides / (within + place.side_resistance)
        + place.floor / (within + place.top_resistance)
        + place.floor / (within + place.base_resistance)
    )


def drainage(zone: Zone, parameters: Parameters) -> float:
    """Water that leaves a zone by its weight, kg/day."""
    return parameters.drainage_per_day * max(0.0, zone.water - parameters.field_capacity_kg_kg * zone.dry)


def rain_in(place: Enclosure, weather: Weather, parameters: Parameters) -> float:
    """Rain that soaks in, kg/day."""
    return parameters.rain_intake * weather.rain * place.floor if place.rained_on else 0.0


def settling(heap: Heap, place: Enclosure, parameters: Parameters) -> float:
    """dv: towards the volume at rest under the heap's own weight, never back, m³/kg/day."""
    broken = 1.0 - heap.degradable / heap.origin.degradable if heap.origin.degradable > 0.0 else 0.0
    x = min(max(broken, 0.0), 1.0)
    load_kpa = (heap.dry + heap.water) * GRAVITY / place.floor / 2.0 / 1000.0
    coarse, fine = heap.origin.settled / heap.origin.dry, 1.0 / parameters.fine_dry_density_kg_m3
    at_rest = (coarse * (1.0 - x) + fine * x) / (1.0 + load_kpa / parameters.overburden_kpa)
    return -parameters.settling_per_day * max(0.0, heap.specific - at_rest)


def ammonia(heap: Heap, loss: float, parameters: Parameters) -> float:
    """dN, kg/day, with `loss` = r_c + r_e."""
    volatile = heap.core.volatile + heap.edge.volatile
    if heap.nitrogen <= 0.0 or volatile <= 0.0:
        return 0.0
    carbon = heap.core.carbon * heap.core.volatile + heap.edge.carbon * heap.edge.volatile
    excess = (carbon / heap.nitrogen - parameters.ammonia_c_to_n) / parameters.ammonia_width
    share = parameters.ammonia_share / (1.0 + math.exp(min(excess, 700.0)))
    return -share * heap.nitrogen * loss / volatile


class Change(NamedTuple):
    """Rates of change per day."""

    core: Decay
    edge: Decay
    core_temperature: float
    edge_temperature: float
    core_water: float
    edge_water: float
    specific: float
    nitrogen: float
    activity: float
    effective_days: float


def change(heap: Heap, place: Enclosure, weather: Weather, parameters: Parameters) -> Change:
    """The whole right-hand side."""
    core, edge, air = heap.core, heap.edge, weather.air
    height = heap.volume / place.floor
    core_share = core.dry / heap.dry

    space_c, space_e = air_space(core, heap, parameters), air_space(edge, heap, parameters)
    mean_space = core_share * space_c + (1.0 - core_share) * space_e
    flow = air_flow(heap, height, place, air, mean_space, parameters)
    flow_c = parameters.core_air_share * flow * core_share
    flow_e = flow - flow_c
    decay_c = decay(core, heap.activity, space_c, flow_c, parameters)
    decay_e = decay(edge, heap.activity, space_e, flow_e, parameters)
    mean_growth = core_share * decay_c.growth + (1.0 - core_share) * decay_e.growth

    humidity_a = parameters.air_humidity * saturated_humidity(air)
    humidity_c, humidity_e = zone_humidity(core, parameters), zone_humidity(edge, parameters)
    enthalpy_a = enthalpy(air, humidity_a)
    enthalpy_c, enthalpy_e = enthalpy(core.temperature, humidity_c), enthalpy(edge.temperature, humidity_e)
    through = parameters.exhaust_through_edge * flow_c
    condensed = through * max(0.0, humidity_c - humidity_e)
    given = through * max(0.0, enthalpy_c - enthalpy_e)

    box = core_box(heap.volume, place.length, place.width, parameters.edge_m)
    lam = conductivity(heap, parameters)
    inward = KJ_DAY_PER_W * core_to_edge(box, lam, parameters) * (core.temperature - edge.temperature)
    outward = KJ_DAY_PER_W * edge_to_air(box, height, place, lam) * (edge.temperature - air)
    rain = rain_in(place, weather, parameters)
    heat_c = parameters.heat_kj_kg * decay_c.loss - flow_c * (enthalpy_c - enthalpy_a) - inward
    heat_e = (
        parameters.heat_kj_kg * decay_e.loss
        + given
        - flow_e * (enthalpy_e - enthalpy_a)
        + inward
        - outward
        - 4.18 * rain * (edge.temperature - air)
    )

    drain_c, drain_e = drainage(core, parameters), drainage(edge, parameters)
    water_c = parameters.metabolic_water_kg_kg * decay_c.loss - flow_c * (humidity_c - humidity_a)
    water_e = parameters.metabolic_water_kg_kg * decay_e.loss - flow_e * (humidity_e - humidity_a)
    return Change(
        core=decay_c,
        edge=decay_e,
        core_temperature=heat_c / core.capacity,
        edge_temperature=heat_e / edge.capacity,
        core_water=water_c - drain_c + parameters.drainage_into_core * drain_e,
        edge_water=water_e + condensed + rain - drain_e,
        specific=settling(heap, place, parameters),
        nitrogen=ammonia(heap, decay_c.loss + decay_e.loss, parameters),
        activity=activity_growth(heap.activity, mean_growth, parameters),
        effective_days=core_share * decay_c.pace + (1.0 - core_share) * decay_e.pace,
    )
