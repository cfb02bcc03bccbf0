"""Structured inputs of the structure sheet: crash structure, members, sections, what was seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from longlens.numbers.distributions import Normal, Triangular, TruncatedNormal, Uniform
from longlens.numbers.streams import Array
from longlens.systems.cooling.readings import Evidence
from longlens.systems.given import Reading
from longlens.systems.structure import sections
from longlens.systems.structure.crash import RULES
from longlens.systems.structure.observed import SIGNS, read_signs
from longlens.systems.suspension.rods import MATERIALS, Material

PRACTICE = "common practice, no source"
MAX_PARTS = 60


def _named(raw: Any, reading: Reading, what: str) -> dict[str, Any]:
    if not isinstance(raw, dict) or len(raw) > MAX_PARTS:
        raise reading.wrong("", f"must be an object of at most {MAX_PARTS} {what}", '{"left_stay": {…}}')
    return raw


def read_crash(raw: Any, reading: Reading) -> dict[str, Any] | None:
    """``length``; ``front`` and ``rear``, each ``width`` and ``height``; where known ``usable`` (share of the length that
    crushes), ``roundness`` (0 a box, 1 an ellipse), ``wall``, ``rules`` (names)."""
    raw = reading.table(raw, "", (), ("length", "front", "rear", "usable", "roundness", "wall", "rules"))
    if not raw:
        return None
    raw = reading.table(raw, "", ("length", "front", "rear"), ("usable", "roundness", "wall", "rules"))
    out: dict[str, Any] = {"length": reading.number(raw["length"], "length", "m", shown="mm", plausible=(0.03, 2.0))}
    for end in ("front", "rear"):
        one = reading.table(raw[end], end, ("width", "height"))
        out[end] = tuple(
            reading.number(one[k], f"{end}.{k}", "m", shown="mm", plausible=(0.01, 1.5)) for k in ("width", "height")
        )
    out["usable"] = reading.number(
        raw.get("usable"), "usable", "1", shown="%", assumption=TruncatedNormal(0.75, 0.06, 0.5, 0.92), plausible=(0.2, 1.0),
        reason=f"debris and the last fold stay: 65 to 85 % of a structure crushes: {PRACTICE}",
    )  # fmt: skip
    out["roundness"] = reading.number(
        raw.get("roundness"), "roundness", "1", assumption=Uniform(0.2, 0.8), plausible=(0, 1),
        reason=f"rounded boxes, neither sharp nor oval: {PRACTICE}",
    )  # fmt: skip
    out["wall"] = None
    if "wall" in raw:
        out["wall"] = reading.number(raw["wall"], "wall", "m", shown="mm", plausible=(2e-4, 0.03))
    names = raw.get("rules", list(RULES))
    if not isinstance(names, list) or not names or any(n not in RULES for n in names):
        raise reading.wrong("rules", "must be a list of rules", f"some of {', '.join(RULES)}")
    out["rules"] = [RULES[n] for n in names]
    return out


def read_members(raw: Any, reading: Reading) -> list[dict[str, Any]]:
    """By name: ``outside``, ``length``, ``material`` (steel, titanium, carbon, aluminium); where known ``wall``, ``fixity`` (1
    for pinned ends), ``load`` (N, tension positive)."""
    out = []
    for name, one in _named(raw, reading, "members").items():
        one = reading.table(one, name, ("outside", "length", "material"), ("wall", "fixity", "load"))
        material = _material(one["material"], name, reading)
        outside = reading.number(one["outside"], f"{name}.outside", "m", shown="mm", plausible=(2e-3, 0.3))
        share = None
        if "wall" in one:
            wall = reading.number(one["wall"], f"{name}.wall", "m", shown="mm", plausible=(2e-4, 0.1))
        else:
            share = reading.number(
                None, f"{name}.wall_share", "1", assumption=TruncatedNormal(0.085, 0.025, 0.03, 0.2),
                reason=f"tubes have walls of 4 to 14 % of their diameter: {PRACTICE}",
            )  # fmt: skip
            wall = share * outside
        out.append({
            "name": name, "outside": outside, "wall": wall, "material": material, **_strengths(material, name, reading),
            "length": reading.number(one["length"], f"{name}.length", "m", shown="mm", plausible=(0.01, 4.0)),
            "fixity": reading.number(
                one.get("fixity"), f"{name}.fixity", "1", assumption=Triangular(0.9, 1.0, 1.6), plausible=(0.2, 4.0),
                reason=f"ends in joints or brackets, nearly pinned: {PRACTICE}",
            ),
            "load": reading.number(one["load"], f"{name}.load", "N", plausible=(-1e6, 1e6)) if "load" in one else None,
        })  # fmt: skip
    return out


def _material(raw: Any, name: str, reading: Reading) -> Material:
    found = MATERIALS.get(str(raw))
    if found is None:
        raise reading.wrong(f"{name}.material", f"{raw!r} is not known", f"one of {', '.join(MATERIALS)}")
    return found


def _strengths(m: Material, name: str, reading: Reading) -> dict[str, Array]:
    return {
        "youngs": reading.number(
            None, f"{name}.youngs", "Pa", assumption=Normal(m.youngs, m.youngs * m.youngs_spread), reason=m.source
        ),
        "strength": reading.number(
            None,
            f"{name}.strength",
            "Pa",
            assumption=Normal(m.strength, m.strength * m.strength_spread),
            reason=m.source,
        ),
    }


_FIELDS = {
    "round_tube": ("outside", "wall"), "box_tube": ("width", "height", "wall"), "bar": ("width", "height"),
    "i_section": ("width", "height", "web", "flange"),
}  # fmt: skip
_MAKE: dict[str, Callable[..., sections.Section]] = {
    "round_tube": sections.round_tube, "box_tube": sections.box_tube, "bar": sections.bar, "i_section": sections.i_section,
}  # fmt: skip


def read_sections(raw: Any, reading: Reading) -> list[dict[str, Any]]:
    """By name (anti-roll bar, rocker, upright …): ``kind`` (round_tube, box_tube, bar, i_section) with its sizes,
    ``material``; where known ``bending`` and ``torque`` (moments), ``length``."""
    out = []
    for name, one in _named(raw, reading, "sections").items():
        if not isinstance(one, dict) or one.get("kind") not in _FIELDS:
            raise reading.wrong(f"{name}.kind", "is not known", f"one of {', '.join(_FIELDS)}")
        fields = _FIELDS[one["kind"]]
        one = reading.table(one, name, ("kind", "material", *fields), ("bending", "torque", "length"))
        material = _material(one["material"], name, reading)
        sizes = [reading.number(one[f], f"{name}.{f}", "m", shown="mm", plausible=(2e-4, 1.0)) for f in fields]
        shear = material.shear
        moments = {
            k: reading.number(one[k], f"{name}.{k}", "N*m", plausible=(-1e6, 1e6)) if k in one else None
            for k in ("bending", "torque")
        }
        length = (
            reading.number(one["length"], f"{name}.length", "m", shown="mm", plausible=(5e-3, 3))
            if "length" in one
            else None
        )
        out.append({
            "name": name, "section": _MAKE[one["kind"]](*sizes), "shear": shear, "length": length, "material": material,
            **moments, **_strengths(material, name, reading),
        })  # fmt: skip
    return out


def read_seen(raw: Any, reading: Reading) -> list[Evidence]:
    """List of ``part`` and ``seen`` (signs), such as weld beads, weave, machining marks."""
    if not isinstance(raw, list) or len(raw) > MAX_PARTS:
        raise reading.wrong("", "must be a list", '[{"part": "rocker", "seen": ["turning or milling marks"]}]')
    out: list[Evidence] = []
    for k, one in enumerate(raw):
        one = reading.table(one, f"{k + 1}", ("part", "seen"), ("note",))
        signs = one["seen"]
        if not isinstance(signs, list) or any(s not in SIGNS for s in signs):
            raise reading.wrong(f"{k + 1}.seen", "holds a sign without a rule", f"signs: {'; '.join(SIGNS)}")
        out += read_signs(str(one["part"]), signs)
    return out
