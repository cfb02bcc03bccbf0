"""The structure sheet's steps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from longlens.systems.sheet import Refusal
from longlens.systems.structure import crash, sections
from longlens.systems.suspension import rods

NO_CRASH = Refusal(
    "the crash structure is not measured", ("crash: length, and width and height at front and rear (mm)",)
)


def stop(g: Mapping[str, Any]) -> dict[str, Any]:
    """The crash structure against the class rules and at the car's own mass and speed."""
    c = g["crash"]
    names = ("rule", "rule_energy", "rule_deceleration", "rule_force", "rule_margin", "rule_least_length", "rule_early", "crush",
             "own_energy", "own_deceleration", "own_force")  # fmt: skip
    if c is None:
        return {**dict.fromkeys(names, NO_CRASH), "around": None}
    crush = c["length"] * c["usable"]
    ends = [crash.perimeter(c[end][0], c[end][1], c["roundness"]) for end in ("front", "rear")]
    around = 0.5 * (ends[0] + ends[1])
    rules = c["rules"]
    mean = np.stack([crash.mean_deceleration(r.speed, crush) for r in rules], 1)
    allowed = np.array([r.mean_g for r in rules]) * crash.GRAVITY
    early = crash.early_share(ends[0], ends[1], crush, 0.150)
    own = g["mass"] + g["payload"]
    impact = crash.energy(own, g["impact_speed"])
    return {
        "rule": [r.name for r in rules],
        "rule_energy": np.broadcast_to(np.array([r.impact for r in rules]), mean.shape),
        "rule_deceleration": mean,
        "rule_force": np.stack([r.impact / crush for r in rules], 1),
        "rule_margin": 1 - mean / allowed,
        "rule_least_length": np.broadcast_to(np.array([round(crash.least_crush(r), 3) for r in rules]), mean.shape),
        "rule_early": mean * early[:, None],
        "crush": crush, "around": around,
        "own_energy": impact, "own_deceleration": crash.mean_deceleration(g["impact_speed"], crush), "own_force": impact / crush,
    }  # fmt: skip


def walls(g: Mapping[str, Any]) -> dict[str, Any]:
    """Walls that each material would need for the hardest rule; what a measured wall would have to take up."""
    c = g["crash"]
    if c is None or g["around"] is None:
        return dict.fromkeys(("material", "wall_needed", "absorption_needed", "wall_usual"), NO_CRASH)
    hardest = max(r.impact for r in c["rules"])
    found, usual, needed = [], [], []
    for a in crash.ABSORBERS.values():
        sea = a.absorbs.quantile(np.clip(g["absorber_rank"], 1e-6, 1 - 1e-6))
        found.append(crash.wall_needed(hardest, sea, a.density, g["around"], g["crush"]))
        usual.append(np.mean((found[-1] >= a.usual[0]) & (found[-1] <= a.usual[1])))
        wall = c["wall"] if c["wall"] is not None else 0.5 * (a.usual[0] + a.usual[1])
        needed.append(crash.absorption_needed(hardest, wall, a.density, g["around"], g["crush"]))
    shape = found[0].shape
    return {
        "material": list(crash.ABSORBERS), "wall_needed": np.stack(found, 1), "absorption_needed": np.stack(needed, 1),
        "wall_usual": np.stack([np.full(shape, u) for u in usual], 1),
    }  # fmt: skip


def carry(g: Mapping[str, Any]) -> dict[str, Any]:
    """Members as columns and ties."""
    every = g["members"]
    none = Refusal("no tube is known", ("members: outside diameter, length and material of each",))
    if not every:
        return dict.fromkeys(
            ("member", "member_push", "member_pull", "member_slender", "loaded_member", "member_use"), none
        )
    push, pull, slender, use, loaded = [], [], [], [], []
    for m in every:
        tube = rods.tube(m["outside"], m["wall"])
        push.append(rods.critical_load(m["youngs"], m["strength"], tube, m["length"], m["fixity"]))
        pull.append(m["strength"] * tube.area)
        slender.append(m["length"] / np.sqrt(m["fixity"]) / tube.radius_of_gyration)
        if m["load"] is not None:
            loaded.append(m["name"])
            use.append(np.where(m["load"] < 0, -m["load"] / push[-1], m["load"] / pull[-1]))
    no_load = Refusal("no member has a load", ("members: load (N)",))
    return {
        "member": [m["name"] for m in every], "member_push": np.stack(push, 1), "member_pull": np.stack(pull, 1),
        "member_slender": np.stack(slender, 1), "loaded_member": loaded or no_load,
        "member_use": np.stack(use, 1) if use else no_load,
    }  # fmt: skip


def bend(g: Mapping[str, Any]) -> dict[str, Any]:
    """Sections in bending and torsion."""
    every = g["sections"]
    if not every:
        none = Refusal("no section is known", ("sections: kind, sizes and material of each",))
        return dict.fromkeys(
            ("part", "bending_capacity", "torsion_capacity", "stressed_part", "part_stress", "part_use", "sprung_part",
                 "torsion_rate"),
            none,
        )  # fmt: skip
    bending = [e["strength"] * e["section"].second / e["section"].outermost for e in every]
    # shear yield at strength/√3 (von Mises)
    torque = [e["strength"] / np.sqrt(3) * e["section"].torsion_modulus for e in every]
    stressed, stress, use, sprung, rate = [], [], [], [], []
    for e in every:
        if e["bending"] is not None or e["torque"] is not None:
            zero = np.zeros_like(e["strength"])
            sigma = sections.bending_stress(zero if e["bending"] is None else e["bending"], e["section"])
            tau = sections.torsion_stress(zero if e["torque"] is None else e["torque"], e["section"])
            stressed.append(e["name"])
            stress.append(sections.equivalent(sigma, tau))
            use.append(stress[-1] / e["strength"])
        if e["length"] is not None:
            sprung.append(e["name"])
            rate.append(e["shear"] * e["section"].torsion / e["length"])
    no_load = Refusal("no section has a moment", ("sections: bending or torque (N m)",))
    no_length = Refusal("no section has a length", ("sections: length (mm)",))
    return {
        "part": [e["name"] for e in every], "bending_capacity": np.stack(bending, 1), "torsion_capacity": np.stack(torque, 1),
        "stressed_part": stressed or no_load, "part_stress": np.stack(stress, 1) if stress else no_load,
        "part_use": np.stack(use, 1) if use else no_load, "sprung_part": sprung or no_length,
        "torsion_rate": np.stack(rate, 1) if rate else no_length,
    }  # fmt: skip


def look(g: Mapping[str, Any]) -> dict[str, Any]:
    """What was seen, as evidence."""
    return {"evidence": g["seen"]}
