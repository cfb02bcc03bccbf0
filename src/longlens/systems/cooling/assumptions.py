"""What is assumed of cores, ducts and pumps where it cannot be seen, with the spread and the reason.

All distributions in SI. "Common practice" values were set down by the authors as the trade's usual range; no
source was found for them, and they are the first thing to replace by a measured figure.
"""

from __future__ import annotations

from math import radians
from typing import NamedTuple

from longlens.numbers.distributions import Distribution, LogNormal, TruncatedNormal

PRACTICE = "common practice, no source"


class Field(NamedTuple):
    """One figure in the file: SI unit, people's unit, what can be, what is assumed (None: must be given)."""

    unit: str
    shown: str = ""
    plausible: tuple[float, float] | None = None
    assumption: Distribution | None = None
    reason: str = PRACTICE


def _mm(value: float, sd: float, low: float, high: float) -> Distribution:
    return TruncatedNormal(value * 1e-3, sd * 1e-3, low * 1e-3, high * 1e-3)


CORE_FIELDS: dict[str, Field] = {
    "face_area": Field("m2", "cm2", (0.002, 3.0)),
    "tube_length": Field("m", "mm", (0.03, 2.0)),
    "depth": Field("m", "mm", (0.008, 0.2)),
    "frontal_area": Field("m2", "cm2", (0.002, 3.0)),
    "tube_pitch": Field("m", "mm", (0.003, 0.03), _mm(9.5, 0.8, 7, 13)),
    "tube_height": Field("m", "mm", (0.0008, 0.012), _mm(1.9, 0.2, 1.2, 3)),
    "tube_wall": Field("m", "mm", (0.0001, 0.002), _mm(0.27, 0.04, 0.15, 0.5)),
    "fin_pitch": Field("m", "mm", (0.0005, 0.006), _mm(1.4, 0.22, 0.9, 2.5)),
    "fin_thickness": Field("m", "mm", (0.00003, 0.0005), _mm(0.09, 0.015, 0.05, 0.15)),
    "louvre_pitch": Field("m", "mm", (0.0005, 0.005), _mm(1.1, 0.15, 0.8, 1.8)),
    "louvre_angle": Field(
        "rad", "deg", (radians(10), radians(45)), TruncatedNormal(radians(27), radians(3), 0.3, 0.65)
    ),
    "louvre_share": Field("1", "", (0.4, 1.0), TruncatedNormal(0.85, 0.04, 0.7, 0.97)),
    "fin_conductivity": Field("W/m/K", "", (30, 420), TruncatedNormal(190, 15, 150, 230)),
    "tube_conductivity": Field("W/m/K", "", (10, 420), TruncatedNormal(170, 15, 130, 220)),
    "collector_diameter": Field("m", "mm", (0.008, 0.12), _mm(32, 4, 20, 50)),
    "connector_diameter": Field("m", "mm", (0.004, 0.1), _mm(25, 4, 14, 45)),
    "collector_taper": Field("1", "", (0.05, 1.0), TruncatedNormal(0.98, 0.02, 0.9, 1.0)),
}

#: Offset strips inside bar-plate, oil and charge-air cores, or in place of louvres.
STRIP_FIELDS: dict[str, Field] = {
    "spacing": Field("m", "mm", (0.0005, 0.01), _mm(1.6, 0.3, 0.9, 3)),
    "height": Field("m", "mm", (0.001, 0.02), _mm(2.6, 0.4, 1.5, 9)),
    "thickness": Field("m", "mm", (0.00005, 0.0005), _mm(0.15, 0.03, 0.08, 0.3)),
    "strip_length": Field("m", "mm", (0.0005, 0.02), _mm(3.2, 0.5, 1.5, 6)),
}

DUCT_FIELDS: dict[str, Field] = {
    "inlet_area": Field("m2", "cm2", (0.0005, 2.0)),
    "outlet_area": Field("m2", "cm2", (0.0005, 3.0)),
    "inlet_recovery": Field(
        "1",
        "%",
        (-0.3, 1.05),
        TruncatedNormal(0.85, 0.08, 0.5, 1.0),
        "no opening of this name in the aero sheet: " + PRACTICE,
    ),
    "outlet_cp": Field(
        "1",
        "",
        (-1.5, 1.0),
        TruncatedNormal(-0.1, 0.08, -0.5, 0.3),
        "no opening of this name in the aero sheet: " + PRACTICE,
    ),
    "loss": Field("1", "", (0.0, 10.0), LogNormal(0.35, 0.35)),
    "shutter": Field("1", "", (0.0, 1.0)),
    "coverage": Field("1", "", (0.0, 1.0)),
    "outlet_angle": Field("rad", "deg", (0.0, 1.571), TruncatedNormal(0.3, 0.1, 0.0, 0.8)),
}

#: Of a duct whose way from inlet to core is known, in the place of its loss.
WIDENING_FIELDS: dict[str, Field] = {
    "widening_length": Field("m", "mm", (0.02, 3.0)),
    "widening_error": Field(
        "1",
        "",
        (0.2, 5.0),
        LogNormal(1.0, 0.25),
        "Crane's cones against Idelchik's, and a core close behind: " + PRACTICE,
    ),
    "bend_loss": Field("1", "", (0.0, 5.0), LogNormal(0.12, 0.5), "friction and one easy bend: " + PRACTICE),
}

FAN_FIELDS: dict[str, Field] = {
    "shut_off_pressure": Field("Pa", "Pa", (10, 5000), LogNormal(220, 0.2)),
    "free_flow": Field("m3/s", "m3/h", (0.01, 5.0)),
    "running": Field("1", "", (0.0, 1.5)),
}

PUMP_FIELDS: dict[str, Field] = {
    "shut_off_pressure": Field("Pa", "kPa", (1e3, 2e6)),
    "free_flow": Field("m3/s", "l/min", (1e-5, 0.05)),
    "running": Field("1", "", (0.0, 2.0)),
    "efficiency": Field("1", "", (0.05, 0.9), TruncatedNormal(0.4, 0.07, 0.2, 0.65)),
}

PIPE_FIELDS: dict[str, Field] = {
    "diameter": Field("m", "mm", (0.002, 0.15)),
    "outside_diameter": Field("m", "mm", (0.003, 0.16)),
    "wall": Field("m", "mm", (0.0002, 0.01), _mm(1.5, 0.4, 0.7, 5), "metal pipe; a hose has 4 to 5 mm: " + PRACTICE),
    "length": Field("m", "m", (0.005, 30.0)),
    "loss": Field("1", "", (0.0, 200.0), LogNormal(1.0, 0.4)),
    "roughness": Field("m", "mm", (0.0, 0.001), _mm(0.005, 0.002, 0.0015, 0.02)),
}

VALVE_FIELDS: dict[str, Field] = {
    "diameter": Field("m", "mm", (0.001, 0.15)),
    "loss": Field("1", "", (0.0, 1000.0), LogNormal(3.0, 0.3)),
    "opening": Field("1", "", (0.0, 1.0)),
    "opens_at": Field("K", "°C", (263.0, 420.0)),
    "full_at": Field("K", "°C", (263.0, 430.0)),
}

PASSAGE_FIELDS: dict[str, Field] = {
    "reference_drop": Field("Pa", "kPa", (10, 2e6)),
    "reference_flow": Field("kg/s", "kg/s", (1e-3, 30)),
    "gas_rate": Field("W/K", "W/K", (1, 5000)),
    "gas_inlet": Field("K", "°C", (260, 1200)),
    "conductance": Field("W/K", "W/K", (1, 50_000)),
}

HEAT_FIELDS: dict[str, dict[str, Field]] = {
    "given": {"heat": Field("W", "kW", (0.0, 5e6))},
    "engine": {
        "power": Field("W", "kW", (1e3, 5e6)),
        "efficiency": Field("1", "", (0.1, 0.6), TruncatedNormal(0.32, 0.03, 0.22, 0.45)),
        "coolant_share": Field(
            "1",
            "",
            (0.1, 2.0),
            TruncatedNormal(0.55, 0.1, 0.3, 1.0),
            "heat to the coolant over brake power: 0.6 to 0.9 in Heywood's table 12.1 (from memory), racing "
            "engines lower by common practice",
        ),
        "oil_share": Field("1", "", (0.0, 0.6), TruncatedNormal(0.13, 0.04, 0.03, 0.3)),
    },
    "machine": {
        "power": Field("W", "kW", (0.0, 5e6)),
        "efficiency": Field("1", "", (0.5, 0.999), TruncatedNormal(0.94, 0.012, 0.85, 0.98)),
    },
    "battery": {
        "power": Field("W", "kW", (0.0, 5e6)),
        "voltage": Field("kg*m2/A/s3", "V", (10, 2000)),
        "resistance": Field("kg*m2/A2/s3", "ohm", (1e-4, 5.0)),
    },
    "gearbox": {
        "power": Field("W", "kW", (0.0, 5e6)),
        "efficiency": Field("1", "", (0.5, 0.999), TruncatedNormal(0.97, 0.008, 0.9, 0.99)),
    },
}

COMPRESSOR_FIELDS: dict[str, Field] = {
    "air_flow": Field("kg/s", "kg/s", (1e-3, 10)),
    "pressure_ratio": Field("1", "", (1.01, 6.0)),
    "efficiency": Field("1", "", (0.3, 0.9), TruncatedNormal(0.70, 0.04, 0.5, 0.82)),
}

CASE_FIELDS: dict[str, Field] = {
    "speed": Field("m/s", "km/h", (0.0, 150.0)),
    "load": Field("1", "", (0.0, 1.5)),
    "full_load_share": Field("1", "", (0.0, 1.0), TruncatedNormal(0.55, 0.07, 0.3, 0.8)),
    "part_load": Field("1", "", (0.0, 1.0), TruncatedNormal(0.15, 0.05, 0.0, 0.4)),
    "grade": Field("1", "%", (0.0, 1.0)),
    "mass": Field("kg", "kg", (50, 40_000)),
    "drag_area": Field("m2", "m2", (0.05, 15)),
    "rolling": Field("1", "", (0.002, 0.2), TruncatedNormal(0.014, 0.003, 0.006, 0.03)),
    "full_power": Field("W", "kW", (1e3, 5e6)),
}
