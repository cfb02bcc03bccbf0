"""Cooling: the batched network against a plain loop over ht, fluids and CoolProp calls, and property tables.

The case of the issue: 2,000 draws × 12 speeds × 3 plumbings of two like cores (parallel, in series either way).
The loop solves the same network for single points: scipy's root for the flows with ``fluids`` friction factors,
CoolProp for the coolant, ``ht`` for Gnielinski and the effectiveness, and the same fin formulas as scalars. It is
measured on a few points of each plumbing and scaled by count (say so when quoting it); its answers are compared
with the batch's on those points.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from longlens.systems.cooling.air import conductivity, heat_capacity, standard_atmosphere, viscosity
from longlens.systems.cooling.airside import Duct, Fan
from longlens.systems.cooling.components import CorePart, Passage, Pipe, Pump
from longlens.systems.cooling.core import Core
from longlens.systems.cooling.liquids import Coolant
from longlens.systems.cooling.model import Circuit, Conditions, Network
from longlens.systems.cooling.network import solve

DRAWS, POINTS_TIMED, TURNS = 2000, 12, 3
SPEEDS = np.linspace(5.0, 65.0, 12)
AIR = standard_atmosphere(300.0, 15.0)
PLUMBINGS = ("parallel", "left first", "right first")


def inputs() -> dict[str, np.ndarray]:
    """Draws (N, 1) of everything uncertain."""
    rng = np.random.default_rng(1)

    def about(value: float, sd: float) -> np.ndarray:
        return value * np.exp(sd * rng.standard_normal((DRAWS, 1)))

    return {
        "face": about(0.09, 0.02), "length": about(0.4, 0.01), "depth": about(0.04, 0.02), "pitch": about(0.0014, 0.15),
        "j": about(1.0, 0.09), "f": about(1.0, 0.11), "tube": about(1.0, 0.05), "heat": about(13e3, 0.1),
        "glycol": np.clip(0.4 + 0.05 * rng.standard_normal((DRAWS, 1)), 0.1, 0.55), "recovery": about(0.8, 0.1),
        "pressure": about(60e3, 0.1), "flow": about(8e-4, 0.1), "loss": about(3.0, 0.2),
    }  # fmt: skip


def network(g: dict[str, Any], plumbing: str) -> Network:
    """The two-core circuit."""
    core = Core(
        g["face"], g["length"], g["depth"], fin_pitch=g["pitch"], j_factor=g["j"], f_factor=g["f"],
        tube_factor=g["tube"], slow_tube_factor=g["tube"],
    )  # fmt: skip
    head = [
        Pump("pump", "cold", "supply", g["pressure"], g["flow"]),
        Passage("machine", "supply", "hot", 20e3, 0.3, power=g["heat"]),
    ]

    def pipe(name: str, start: str, end: str) -> Pipe:
        return Pipe(name, start, end, 0.022, 1.1, loss=g["loss"])

    if plumbing == "parallel":
        rest = [
            pipe("p1", "hot", "li"), CorePart("left", "li", "lo", core), pipe("p2", "lo", "cold"),
            pipe("p3", "hot", "ri"), CorePart("right", "ri", "ro", core), pipe("p4", "ro", "cold"),
        ]  # fmt: skip
    else:
        one, two = ("left", "right") if plumbing == "left first" else ("right", "left")
        rest = [
            pipe("p1", "hot", "ai"), CorePart(one, "ai", "ao", core), pipe("p2", "ao", "bi"),
            CorePart(two, "bi", "bo", core), pipe("p3", "bo", "cold"),
        ]  # fmt: skip
    ducts = tuple(
        Duct(f"{n} duct", (n,), 0.03, 0.05, inlet_recovery=g["recovery"], fan=Fan(180.0, 0.35))
        for n in ("left", "right")
    )
    return Network((Circuit("water", Coolant(g["glycol"]), tuple(head + rest)),), ducts)


# ---------------------------------------------------------------- the plain loop


def loop_point(g: dict[str, float], plumbing: str, speed: float) -> float:
    """Hottest coolant (K) of one point, by scalar library calls."""
    import fluids
    import ht
    from CoolProp.CoolProp import PropsSI
    from scipy.optimize import brentq, root

    liquid = f"INCOMP::MEG[{g['glycol']:.9f}]"
    mean, after = 345.0, float(AIR.temperature) + 15.0
    ambient = float(AIR.temperature)
    tubes = g["face"] / (g["length"] * 0.0095)
    height, width = 0.0019 - 0.00054, g["depth"] - 0.00054
    section, diameter = tubes * height * width, 2 * height * width / (height + width)
    for _ in range(8):
        rho, cp, mu, k = (PropsSI(key, "T", mean, "P", 2e5, liquid) for key in "DCVL")

        def pipe_drop(m: float, rho: float = rho, mu: float = mu) -> float:
            area = np.pi / 4 * 0.022**2
            v = abs(m) / (rho * area)
            f = fluids.friction_factor(Re=max(rho * v * 0.022 / mu, 1.0), eD=5e-6 / 0.022)
            return np.sign(m) * (f * 1.1 / 0.022 + g["loss"]) * rho * v * v / 2

        def core_drop(m: float, rho: float = rho, mu: float = mu) -> float:
            flux = abs(m) / section
            reynolds = max(flux * diameter / mu, 1e-3)
            a = height / width
            laminar = 96 * (1 - 1.3553 * a + 1.9467 * a**2 - 1.7012 * a**3 + 0.9564 * a**4 - 0.2537 * a**5)
            f = laminar / reynolds if reynolds < 2300 else fluids.friction_factor(Re=reynolds, eD=0.0)
            head = flux**2 / (2 * rho)
            ends = m * m / rho * (0.75 / (np.pi / 4 * 0.025**2) ** 2 + 1 / (np.pi / 4 * 0.030**2) ** 2)
            return np.sign(m) * (head * (f * g["length"] / diameter + 1.5) + ends)

        def pump_rise(m: float, rho: float = rho) -> float:
            part = m / (rho * g["flow"])
            return g["pressure"] * rho / 1000 * (1 - 0.1 * part - 0.9 * part * abs(part))

        def machine(m: float) -> float:
            return 20e3 * np.sign(m) * abs(m / 0.3) ** 1.8

        if plumbing == "parallel":
            solved = root(
                lambda q: [
                    pump_rise(q[0] + q[1]) - machine(q[0] + q[1]) - 2 * pipe_drop(q[0]) - core_drop(q[0]),
                    2 * pipe_drop(q[0]) + core_drop(q[0]) - 2 * pipe_drop(q[1]) - core_drop(q[1]),
                ],
                [0.2, 0.19],
            )
            through, total = float(solved.x[0]), float(sum(solved.x))
        else:
            through = total = brentq(
                lambda q: pump_rise(q) - machine(q) - 3 * pipe_drop(q) - 2 * core_drop(q), 1e-3, 2.0
            )
        conductance = _loop_core(g, speed, ambient, after, through, (rho, cp, mu, k), diameter, section, ht)
        g_value, air_rate = conductance
        fall = 1 - g_value / (through * cp)
        passed = 1 - fall if plumbing == "parallel" else 1 - fall * fall
        shaft = pump_rise(total) * total / rho / 0.4
        excess = (g["heat"] + shaft) / (total * cp * passed)
        hot = ambient + excess
        cold = hot - excess * passed
        new_mean = (hot + cold) / 2
        after = ambient + g_value * excess * (1 if plumbing == "parallel" else 0.9) / air_rate
        if abs(new_mean - mean) < 1e-3:
            break
        mean = new_mean
    return hot


def _loop_core(
    g: dict[str, float], speed: float, ambient: float, after: float, through: float, liquid: tuple[float, ...],
    diameter: float, section: float, ht: Any,
) -> tuple[float, float]:  # fmt: skip
    from scipy.optimize import brentq

    _, cp, mu, k = liquid
    height, pitch, tube_pitch, thick, louvre = 0.0076, g["pitch"], 0.0095, 0.0001, 0.0011
    cells = g["face"] / (tube_pitch * pitch)
    free = (pitch - thick) * (height - thick) * cells
    fin_area, tube_area = 2 * height * g["depth"] * cells, 2 * (pitch - thick) * g["depth"] * cells
    mean = (ambient + after) / 2
    mu_air, cp_air, k_air = float(viscosity(mean)), float(heat_capacity(mean)), float(conductivity(mean))
    theta = np.degrees(0.471)

    def friction(reynolds: float) -> float:
        dh = 2 * (pitch - thick) * (height - thick) / (pitch - thick + height - thick) / louvre
        f1 = 4.97 * reynolds ** (0.6049 - 1.064 / theta**0.2) * np.log((thick / pitch) ** 0.5 + 0.9) ** -0.527
        f2 = (dh * np.log(0.3 * reynolds)) ** -2.966 * (pitch / (0.85 * height)) ** (-0.7931 * tube_pitch / height)
        f3 = (tube_pitch / (tube_pitch - height)) ** -0.0446 * np.log(1.2 + (louvre / pitch) ** 1.4) ** -3.553
        return g["f"] * f1 * f2 * f3 * theta**-0.477

    density, pressure = float(AIR.density), float(AIR.pressure)

    def balance(m: float) -> float:
        flux = m / free
        dh = 4 * free * g["depth"] / (fin_area + tube_area)
        drop = flux**2 / 2 * 287.05287 / pressure
        drop *= friction(flux * louvre / mu_air) * 4 * g["depth"] / dh * mean + (1 + (free / g["face"]) ** 2) * (
            after - ambient
        )
        volume = m / density / 0.35
        fan = 180 * density / 1.2 * (1 - volume * abs(volume))
        fan *= 1.0 if fan > 0 else 0.1
        hot = pressure / (287.05287 * after)
        resist = 0.5 * (0.3 / (density * 0.03**2) + 1 / (hot * 0.05**2)) * m * m
        return (g["recovery"] + 0.15) * density / 2 * speed**2 + fan - resist - drop

    air = brentq(balance, 0.02, 20.0)
    reynolds = air / free * louvre / mu_air
    j = (
        g["j"] * reynolds**-0.49 * (theta / 90) ** 0.27 * (pitch / louvre) ** -0.14 * (height / louvre) ** -0.29
        * (g["depth"] / louvre) ** -0.23 * (0.85 * height / louvre) ** 0.68 * (tube_pitch / louvre) ** -0.28
        * (thick / louvre) ** -0.05
    )  # fmt: skip
    film = j * air / free * cp_air / (mu_air * cp_air / k_air) ** (2 / 3)
    reach = np.sqrt(2 * film / (190.0 * thick)) * height / 2
    outside = film * (tube_area + fin_area * np.tanh(reach) / reach)
    flux = through / section
    re_tube, prandtl = flux * diameter / mu, mu * cp / k
    a = (0.0019 - 0.00054) / (g["depth"] - 0.00054)
    laminar = 7.541 * (1 - 2.610 * a + 4.970 * a**2 - 5.119 * a**3 + 2.702 * a**4 - 0.548 * a**5)
    graetz = min(re_tube, 2300.0) * prandtl * diameter / g["length"]
    low = laminar + 0.0668 * graetz / (1 + 0.04 * graetz ** (2 / 3))
    number = low
    if re_tube > 2300:
        re = max(re_tube, 4000.0)
        high = ht.turbulent_Gnielinski(Re=re, Pr=prandtl, fd=(1.8 * np.log10(re) - 1.5) ** -2)
        high *= 1 + (diameter / g["length"]) ** (2 / 3)
        number = low + min((re_tube - 2300) / 1700, 1.0) * (high - low)
    surface = 2 * (0.0019 - 0.00054 + g["depth"] - 0.00054) * g["face"] / 0.0095
    inside = 1 / (1 / (g["tube"] * number * k / diameter * surface) + 0.00027 / (170.0 * surface))
    overall = 1 / (1 / outside + 1 / inside)
    rates = sorted((air * cp_air, through * cp))
    effectiveness = ht.effectiveness_from_NTU(overall / rates[0], rates[0] / rates[1], subtype="crossflow")
    return effectiveness * rates[0], air * cp_air


# ---------------------------------------------------------------- rows


def rows() -> list[dict[str, Any]]:
    """Rows for the bench's table."""
    g = inputs()
    conditions = Conditions(SPEEDS[None, :], AIR)
    networks = {name: network(g, name) for name in PLUMBINGS}
    solve(networks["parallel"], conditions)  # the table of the effectiveness is made once per process
    points = DRAWS * SPEEDS.size * len(PLUMBINGS)
    loop_point({name: float(value[0, 0]) for name, value in g.items()}, "parallel", 20.0)  # imports
    batch, plain, apart = [], [], []
    rng = np.random.default_rng(2)
    # Turn about, so that whatever else the machine does falls on both; the medians are compared.
    for _ in range(TURNS):
        started, started_cpu = time.perf_counter(), time.process_time()
        solved = {name: solve(net, conditions) for name, net in networks.items()}
        batch.append((time.perf_counter() - started, time.process_time() - started_cpu))
        started, started_cpu, done = time.perf_counter(), time.process_time(), 0
        for name in PLUMBINGS:
            for draw in rng.integers(0, DRAWS, POINTS_TIMED):
                at = int(draw) % SPEEDS.size
                one = {key: float(value[draw, 0]) for key, value in g.items()}
                alone = loop_point(one, name, float(SPEEDS[at]))
                apart.append(alone - solved[name].temperature["water:hot"][draw, at])
                done += 1
        scale = points / done
        plain.append(((time.perf_counter() - started) * scale, (time.process_time() - started_cpu) * scale))
    (wall, cpu), (loop, loop_cpu) = np.median(batch, axis=0), np.median(plain, axis=0)
    done *= TURNS
    cases = f"{DRAWS} draws × {SPEEDS.size} speeds × {len(PLUMBINGS)} plumbings"
    heat = max(float(s.heat_error.max()) for s in solved.values())
    pressure = max(float(s.pressure_error.max()) for s in solved.values())
    table = [
        (f"{cases}, wall", wall, "s"),
        ("the same, processor time", cpu, "s"),
        (f"plain loop over ht, fluids, CoolProp ({done} points timed, scaled by count)", loop, "s"),
        ("ratio, wall", loop / wall, "×"),
        ("ratio, processor time", loop_cpu / cpu, "×"),
        ("largest difference of the hottest node, loop against batch", float(np.max(np.abs(apart))), "K"),
        ("heat balance, worst point", heat, "relative"),
        ("pressure round a loop, worst point", pressure, "relative"),
    ]
    return [*({"what": w, "value": v, "unit": u} for w, v, u in table), *property_rows()]


def property_rows() -> list[dict[str, Any]]:
    """Largest relative difference of the property tables from CoolProp."""
    from CoolProp.CoolProp import PropsSI

    found = []
    fields = {"D": "density", "C": "heat_capacity", "V": "viscosity", "L": "conductivity"}
    for kind, fluid in (("ethylene", "MEG"), ("propylene", "MPG")):
        worst = dict.fromkeys(fields, 0.0)
        for fraction in np.linspace(0.05, 0.58, 8):
            name = f"INCOMP::{fluid}[{fraction:.6f}]"
            low = max(PropsSI("T_freeze", "T", 300.0, "P", 1e5, name) + 3.0, 253.15)
            temperature = np.linspace(low, 373.15, 30)
            ours = Coolant(fraction, kind).properties(temperature)
            for key, field in fields.items():
                theirs = np.array([PropsSI(key, "T", t, "P", 3e5, name) for t in temperature])
                worst[key] = max(worst[key], float(np.max(np.abs(getattr(ours, field) / theirs - 1.0))))
        found += [
            {"what": f"table of {kind} glycol against CoolProp, {fields[key]}", "value": 100 * value, "unit": "%"}
            for key, value in worst.items()
        ]
    temperature = np.linspace(275.0, 415.0, 60)
    ours = Coolant(0.0).properties(temperature)
    for key, field in fields.items():
        theirs = np.array([PropsSI(key, "T", t, "P", 6e5, "Water") for t in temperature])
        worst_one = float(np.max(np.abs(getattr(ours, field) / theirs - 1.0)))
        found.append({"what": f"table of water against CoolProp, {field}", "value": 100 * worst_one, "unit": "%"})
    return found


if __name__ == "__main__":
    for row in rows():
        print(f"{row['what']:85s} {row['value']:12.4g} {row['unit']}")
