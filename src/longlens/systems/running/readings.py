"""Structured inputs of the running sheet: weights, grip, brakes, gears, battery, track."""

from __future__ import annotations

from typing import Any

import numpy as np

from longlens.numbers.distributions import LogNormal, Normal, TruncatedNormal, Uniform
from longlens.numbers.streams import Array
from longlens.systems.given import Reading
from longlens.systems.running import track as tracks
from longlens.systems.running.brakes import MATERIALS
from longlens.systems.running.grip import GRAVITY

PRACTICE = "common practice, no source"
MAX_PARTS = 100


def read_weights(raw: Any, reading: Reading) -> dict[str, Any]:
    """``mass`` (without driver), ``front_share``, or what bounds them: ``tyre_load_front``/``_rear`` (of one tyre, in newtons or
    as a load index), ``parts`` (list of ``name``, ``mass``, ``behind`` the front axle)."""
    fields = ("mass", "front_share", "tyre_load_front", "tyre_load_rear", "tyre_use", "parts")
    raw = reading.table(raw, "", (), fields)
    out: dict[str, Any] = dict.fromkeys(fields)
    mass = raw.get("mass", {"fact": "mass"} if "fact:mass" in reading.known else None)
    if mass is not None:
        out["mass"] = reading.number(mass, "mass", "kg", plausible=(150, 5000))
    if "front_share" in raw:
        out["front_share"] = reading.number(raw["front_share"], "front_share", "1", shown="%", plausible=(0.2, 0.8))
    for end in ("front", "rear"):
        if f"tyre_load_{end}" in raw:
            out[f"tyre_load_{end}"] = reading.number(
                raw[f"tyre_load_{end}"], f"tyre_load_{end}", "N", plausible=(800, 20_000)
            )
    if out["tyre_load_front"] is not None and out["tyre_load_rear"] is not None and out["mass"] is None:
        out["tyre_use"] = reading.number(
            raw.get("tyre_use"), "tyre_use", "1", shown="%", assumption=Uniform(0.22, 0.75), plausible=(0.05, 1.2),
            reason="cars without their load stand on 25 to 70 % of what their tyres may carry: " + PRACTICE,
        )  # fmt: skip
    if "parts" in raw:
        out["parts"] = _parts(raw["parts"], reading)
    return out


def _parts(raw: Any, reading: Reading) -> list[tuple[str, Any, Any]]:
    if not isinstance(raw, list) or not 1 <= len(raw) <= MAX_PARTS:
        raise reading.wrong("parts", "must be a list", f"1 to {MAX_PARTS} parts with name, mass, behind")
    out = []
    for k, one in enumerate(raw):
        one = reading.table(one, f"parts {k + 1}", ("name", "mass", "behind"))
        name = str(one["name"])
        mass = reading.number(one["mass"], f"parts.{name}.mass", "kg", plausible=(0.1, 4000))
        behind = reading.number(one["behind"], f"parts.{name}.behind", "m", shown="mm", plausible=(-2, 6))
        out.append((name, mass, behind))
    return out


def read_grip(raw: Any, reading: Reading) -> dict[str, Any]:
    """``peak``: peak friction coefficient where it is known; else the class' band stands."""
    raw = reading.table(raw, "", (), ("peak",))
    if "peak" not in raw:
        return {"peak": None}
    return {"peak": reading.number(raw["peak"], "peak", "1", plausible=(0.2, 2.5))}


def read_brakes(raw: Any, reading: Reading) -> dict[str, Any]:
    """Per axle ``front``, ``rear``: ``diameter``, and where known ``ring`` (its width), ``thickness``, ``solid`` (share that is
    no vent), ``material``."""
    raw = reading.table(raw, "", (), ("front", "rear", "interval", "from", "to"))
    out: dict[str, Any] = {"axles": {}}
    for end in ("front", "rear"):
        if end in raw:
            out["axles"][end] = _disc(raw[end], end, reading)
    out["interval"] = reading.number(
        raw.get("interval"), "interval", "s", assumption=TruncatedNormal(17, 4, 8, 60), plausible=(2, 600),
        reason="a hard stop every 10 to 25 s on a circuit: " + PRACTICE,
    )  # fmt: skip
    out["from"] = reading.number(
        raw.get("from"), "from", "m/s", shown="km/h", assumption=Normal(200 / 3.6, 15 / 3.6), plausible=(5, 120),
        reason="from about 200 km/h: " + PRACTICE,
    )  # fmt: skip
    out["to"] = reading.number(
        raw.get("to"), "to", "m/s", shown="km/h", assumption=Normal(90 / 3.6, 10 / 3.6), plausible=(0, 100),
        reason="down to about 90 km/h: " + PRACTICE,
    )  # fmt: skip
    return out


def _disc(raw: Any, end: str, reading: Reading) -> dict[str, Any]:
    raw = reading.table(raw, end, ("diameter",), ("ring", "thickness", "solid", "material", "cooling_time"))
    material = raw.get("material", "iron")
    if material not in MATERIALS:
        raise reading.wrong(f"{end}.material", f"{material!r} is not known", f"one of {', '.join(MATERIALS)}")

    def figure(name: str, unit: str, shown: str, assumption: Any, reason: str, plausible: tuple[float, float]) -> Any:
        return reading.number(
            raw.get(name), f"{end}.{name}", unit, shown=shown, assumption=assumption, plausible=plausible,
            reason=f"{reason}: {PRACTICE}",
        )  # fmt: skip

    return {
        "material": material,
        "diameter": reading.number(raw["diameter"], f"{end}.diameter", "m", shown="mm", plausible=(0.12, 0.5)),
        "ring": figure(
            "ring", "m", "mm", TruncatedNormal(0.052, 0.006, 0.03, 0.09), "rings of 40 to 65 mm", (0.01, 0.15)
        ),
        "thickness": figure(
            "thickness", "m", "mm", TruncatedNormal(0.027, 0.004, 0.012, 0.04), "discs of 16 to 36 mm", (0.003, 0.06)
        ),
        "solid": figure("solid", "1", "%", Uniform(0.55, 0.9), "vents and holes take 10 to 45 %", (0.2, 1.0)),
        "cooling_time": figure(
            "cooling_time",
            "s",
            "s",
            LogNormal(90.0, 0.3),
            "a ducted disc loses 63 % of its heat in 40 to 200 s",
            (5, 2000),
        ),
    }


def read_gears(raw: Any, reading: Reading) -> dict[str, Any]:
    """``shaft_speed`` (greatest of engine or motor), ``overall_ratio`` of the top gear with the final drive,
    ``rolling_radius`` of the driven wheels."""
    raw = reading.table(raw, "", (), ("shaft_speed", "overall_ratio", "rolling_radius"))
    if not raw:
        return {}
    raw = reading.table(raw, "", ("shaft_speed", "overall_ratio", "rolling_radius"))
    return {
        "shaft_speed": reading.number(raw["shaft_speed"], "shaft_speed", "rad/s", shown="rpm", plausible=(100, 4000)),
        "overall_ratio": reading.number(raw["overall_ratio"], "overall_ratio", "1", plausible=(1.0, 30)),
        "rolling_radius": reading.number(
            raw["rolling_radius"], "rolling_radius", "m", shown="mm", plausible=(0.15, 0.6)
        ),
    }


def read_battery(raw: Any, reading: Reading) -> dict[str, Any]:
    """``capacity``, and where known ``usable``, ``auxiliary`` (power of all but the drive)."""
    raw = reading.table(raw, "", (), ("capacity", "usable", "auxiliary"))
    capacity = raw.get("capacity", {"fact": "battery"} if "fact:battery" in reading.known else None)
    if capacity is None:
        return {}
    return {
        "capacity": reading.number(capacity, "capacity", "J", shown="kWh", plausible=(3.6e5, 2e9)),
        "usable": reading.number(
            raw.get("usable"), "usable", "1", shown="%", assumption=Uniform(0.85, 0.96), plausible=(0.3, 1.0),
            reason="85 to 96 % of the stated capacity may be used: " + PRACTICE,
        ),
        "auxiliary": reading.number(
            raw.get("auxiliary"), "auxiliary", "W", shown="kW", assumption=Uniform(300, 1500), plausible=(0, 2e4),
            reason="pumps, fans and electronics take 0.3 to 1.5 kW: " + PRACTICE,
        ),
    }  # fmt: skip


def read_air(raw: Any, reading: Reading) -> dict[str, Array] | None:
    """Lift and drag areas over speed from the aero sheet of the same car, whose body sinks as it goes faster; nothing else."""
    reading.table(raw, "", ())
    names = {"speed": "m/s", "lift_front": "m2", "lift_rear": "m2", "drag": "m2"}
    links = {k: "aero.speed_curve" if k == "speed" else f"aero.{k}_area_curve" for k in names}
    known = [reading.known.get(f"output:{link}") for link in links.values()]
    if not all(n is not None and n.n == reading.draws and np.all(np.isfinite(n.draws)) for n in known):
        return None
    out = {k: reading.number({"output": link}, k, names[k], shape=None) for k, link in links.items()}
    return out | {"speed": np.median(out["speed"], axis=0)}


def read_track(raw: Any, reading: Reading) -> tracks.Track:
    """``invented``: hill or ring; or ``points`` (list of [x, y] or [x, y, z], m) with ``closed``, ``name``, ``smooth`` (m)."""
    raw = reading.table(raw, "", (), ("invented", "points", "closed", "name", "smooth"))
    if "points" not in raw:
        return tracks.invented(str(raw.get("invented", "ring")))
    smooth = raw.get("smooth", 0.0)
    if not isinstance(smooth, (int, float)) or isinstance(smooth, bool) or not 0 <= smooth <= 200:
        raise reading.wrong("smooth", "must be a length from 0 to 200 m", "leave it out")
    if not isinstance(raw["points"], list):
        raise reading.wrong("points", "must be a list of points", "[[x, y], …] in metres")
    return tracks.from_points(
        raw["points"], bool(raw.get("closed", True)), str(raw.get("name", "given track")), 5.0, float(smooth)
    )


__all__ = [
    "GRAVITY", "PRACTICE", "read_battery", "read_brakes", "read_gears", "read_grip", "read_track", "read_weights",
]  # fmt: skip
