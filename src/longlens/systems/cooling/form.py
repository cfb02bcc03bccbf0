"""Reads the structures of a cooling file: cores, heat, circuits, ducts, exchangers, limits, cases, lines.

The plain JSON comes in through the sheet's ``Structure`` inputs; figures become draws of shape (N,) with
their trail, everything else stays as it was written, checked. Nothing is computed here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from longlens.systems.given import Reading

from . import assumptions as assumed
from .assumptions import Field
from .places import derived_length, mirrored, read_face, read_line, read_place

MAX_PARTS = 200
#: m: cast and brazed collectors have walls of 1.5 to 3 mm (common practice, no source).
COLLECTOR_WALL = 0.002
_PARTS: dict[str, tuple[dict[str, Field], tuple[str, ...], tuple[str, ...]]] = {
    # kind: figures, of them required, other fields
    "pipe": (assumed.PIPE_FIELDS, (), ("path",)),
    "pump": (assumed.PUMP_FIELDS, ("shut_off_pressure", "free_flow"), ()),
    "valve": (assumed.VALVE_FIELDS, ("diameter",), ("one_way",)),
    "thermostat": (assumed.VALVE_FIELDS, ("diameter", "opens_at", "full_at"), ("senses", "closes")),
    "passage": (assumed.PASSAGE_FIELDS, ("reference_drop", "reference_flow"), ("heat",)),
    "charge cooler": (
        assumed.PASSAGE_FIELDS,
        ("reference_drop", "reference_flow", "conductance"),
        ("heat", "charge"),
    ),
    "core": ({}, (), ()),
}
_WORDS = ("kind", "name", "from", "to")


def read_cores(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Cores by name. ``{"like": "left"}`` takes over another's figures, draws included."""
    result: dict[str, dict[str, Any]] = {}
    table = _table(raw, reading, "", "cores, by name")
    for name in sorted(table, key=lambda n: "like" in table[n] if isinstance(table[n], dict) else False):
        result[name] = _read_core(table[name], reading, name, result)
    return result


def _read_core(raw: Any, reading: Reading, name: str, before: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    words = ("like", "rows", "passes", "arrangement", "same_end", "air_fins", "inner_fins")
    figures = assumed.CORE_FIELDS
    entry = dict(reading.table(raw, name, (), (*figures, *words, "charge", "face", "collector", "mirror")))
    base: dict[str, Any] = {}
    if "like" in entry:
        other = entry["like"]
        if other not in before:
            raise reading.wrong(f"{name}.like", f"there is no core {other!r}", "name a core that is written out")
        base = dict(before[other])
    seen = _seen_of_core(entry, reading, name, base)
    base.update(seen)
    for key, field in figures.items():
        needed = key in ("face_area", "tube_length", "depth")
        if key in seen and key not in entry:
            _check_seen(seen[key], reading, f"{name}.face", key, field)
        elif key in entry or ("like" not in entry and key != "frontal_area"):
            if needed and key not in entry:
                raise reading.wrong(f"{name}.{key}", "is missing", f"give it in {field.shown}")
            base[key] = _figure(entry.get(key), reading, f"{name}.{key}", field)
    for key, default, least in (("rows", 1, 1), ("passes", 1, 1)):
        base[key] = _whole(entry.get(key, base.get(key, default)), reading, f"{name}.{key}", least, 8)
    base["arrangement"] = _word(
        entry.get("arrangement", base.get("arrangement", "face")),
        reading,
        f"{name}.arrangement",
        ("face", "depth_counter", "depth_parallel"),
    )
    base["same_end"] = _truth(entry.get("same_end", base.get("same_end", False)), reading, f"{name}.same_end")
    for key in ("air_fins", "inner_fins"):
        if key in entry:
            base[key] = _strip(entry[key], reading, f"{name}.{key}")
    if "charge" in entry:
        base["charge"] = _charge(entry["charge"], reading, f"{name}.charge")
    return base


def _seen_of_core(entry: dict[str, Any], reading: Reading, name: str, base: dict[str, Any]) -> dict[str, Any]:
    """What the measured face and collector give: areas and length; diameter and taper. Figures given go before."""
    found: dict[str, Any] = {}
    if "face" in entry:
        face, measures = read_face(entry["face"], reading, f"{name}.face")
        if face is None:
            figures = ("face_area", "tube_length", "frontal_area")
            instead = reading.table(entry["face"]["otherwise"], f"{name}.face.otherwise", (), figures)
            for key in figures:
                entry.setdefault(key, instead[key]) if key in instead else None
        else:
            found |= measures | {"face": face}
        for key in measures:  # a figure written out is the better one
            if key in entry:
                reading.numbers.pop(f"{reading.name}.{name}.{key}", None)
    elif "like" in entry:
        face = base.pop("face", None)  # the same core elsewhere: only across the centre plane is it known where
        if _truth(entry.get("mirror", False), reading, f"{name}.mirror") and face is not None:
            found["face"] = mirrored(face)
    if "collector" in entry:
        table = reading.table(entry["collector"], f"{name}.collector", ("at_connector", "far_end"))
        field = assumed.CORE_FIELDS["collector_diameter"]
        ends = [_figure(table[k], reading, f"{name}.collector.{k}", field) for k in ("at_connector", "far_end")]
        found["collector_diameter"] = ends[0] - 2.0 * COLLECTOR_WALL
        found["collector_taper"] = np.clip((ends[1] - 2.0 * COLLECTOR_WALL) / found["collector_diameter"], 0.05, 1.0)
    return found


def _check_seen(values: np.ndarray, reading: Reading, where: str, key: str, field: Field) -> None:
    """A measured face is held against what can be, as a written figure is."""
    if field.plausible and not field.plausible[0] <= float(np.median(values)) <= field.plausible[1]:
        raise reading.wrong(where, f"gives a {key.replace('_', ' ')} that no core has", "check its points")


def _strip(raw: Any, reading: Reading, name: str) -> dict[str, Any]:
    entry = reading.table(raw, name, (), tuple(assumed.STRIP_FIELDS))
    return {key: _figure(entry.get(key), reading, f"{name}.{key}", f) for key, f in assumed.STRIP_FIELDS.items()}


def _charge(raw: Any, reading: Reading, name: str) -> dict[str, Any]:
    """A compressor before a charge cooler: air flow of this bank, pressure ratio, efficiency."""
    entry = reading.table(raw, name, ("air_flow", "pressure_ratio"), tuple(assumed.COMPRESSOR_FIELDS))
    return {key: _figure(entry.get(key), reading, f"{name}.{key}", f) for key, f in assumed.COMPRESSOR_FIELDS.items()}


def read_heat(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Heat sources by name, each of a kind with its figures."""
    result = {}
    for name, entry in _table(raw, reading, "", "heat sources, by name").items():
        kind = _word(_get(entry, "kind", reading, name), reading, f"{name}.kind", tuple(assumed.HEAT_FIELDS))
        figures = assumed.HEAT_FIELDS[kind]
        reading.table(entry, name, ("kind",), tuple(figures))
        result[name] = {
            "kind": kind,
            **{key: _figure(entry.get(key), reading, f"{name}.{key}", f) for key, f in figures.items()},
        }
    return result


def read_circuits(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Circuits by name: liquid, pressure at the cap over ambient, parts."""
    result = {}
    for name, entry in _table(raw, reading, "", "circuits, by name").items():
        reading.table(entry, name, ("parts",), ("liquid", "cap_pressure"))
        liquid = _liquid(entry.get("liquid", {"kind": "water and ethylene glycol"}), reading, f"{name}.liquid")
        cap = Field("Pa", "bar", (0.0, 2e6), assumed.LogNormal(1.1e5, 0.12), "cap of 1.1 bar: " + assumed.PRACTICE)
        parts = entry["parts"]
        if not isinstance(parts, list) or not parts or len(parts) > MAX_PARTS:
            raise reading.wrong(f"{name}.parts", "must be a list of parts", f"1 to {MAX_PARTS} of them")
        result[name] = {
            "liquid": liquid,
            "cap_pressure": _figure(entry.get("cap_pressure"), reading, f"{name}.cap_pressure", cap),
            "parts": [_part(part, reading, f"{name}.parts[{k}]", k) for k, part in enumerate(parts)],
        }
    return result


def _liquid(raw: Any, reading: Reading, name: str) -> dict[str, Any]:
    kinds = ("water", "water and ethylene glycol", "water and propylene glycol", "oil")
    kind = _word(_get(raw, "kind", reading, name), reading, f"{name}.kind", kinds)
    if kind == "oil":
        fields = {
            "viscosity_40": Field("m2/s", "mm2/s", (3e-6, 2e-3), assumed.LogNormal(68e-6, 0.2)),
            "viscosity_100": Field("m2/s", "mm2/s", (1.5e-6, 1e-4), assumed.LogNormal(11e-6, 0.12)),
            "density_15": Field("kg/m3", "kg/m3", (700, 1100), assumed.TruncatedNormal(860, 12, 800, 920)),
        }
    elif kind == "water":
        fields = {}
    else:
        fields = {"glycol": Field("1", "%", (0.0, 0.6), assumed.TruncatedNormal(0.4, 0.07, 0.15, 0.58))}
    entry = reading.table(raw, name, ("kind",), tuple(fields))
    return {"kind": kind, **{k: _figure(entry.get(k), reading, f"{name}.{k}", f) for k, f in fields.items()}}


def _part(raw: Any, reading: Reading, where: str, number: int) -> dict[str, Any]:
    kind = _word(_get(raw, "kind", reading, where), reading, f"{where}.kind", tuple(_PARTS))
    figures, required, others = _PARTS[kind]
    entry = reading.table(raw, where, _WORDS, (*figures, *others, "path", "place", "certainty"))
    name = _text(entry["name"], reading, f"{where}.name")
    result: dict[str, Any] = {"kind": kind, "name": name}
    for word in ("from", "to"):
        result[word] = _text(entry[word], reading, f"{where}.{word}")
    if "path" in entry:
        result["path"] = read_line(entry["path"], reading, f"{name}.path")
        if kind == "pipe" and "length" not in entry:
            result["length"] = derived_length(reading, f"{name}.length", result["path"], f"{name}.path")
    if "certainty" in entry:
        certainties = ("seen", "partly", "inferred")
        result["certainty"] = _word(entry["certainty"], reading, f"{name}.certainty", certainties)
    if "place" in entry:
        result["place"] = read_place(entry["place"], reading, f"{name}.place")
    for key, field in figures.items():
        missing = key in required or (kind == "pipe" and key == "length" and "path" not in entry)
        if missing and key not in entry:
            raise reading.wrong(f"{name}.{key}", "is missing", f"give it in {field.shown or field.unit}")
        if key in entry or (field.assumption is not None and key not in ("outside_diameter", "wall")):
            result[key] = _figure(entry.get(key), reading, f"{name}.{key}", field)
    if kind == "pipe":
        _pipe_bore(entry, result, reading, name)
    for word in ("one_way", "closes"):
        if word in entry:
            result[word] = _truth(entry[word], reading, f"{name}.{word}")
    if kind == "thermostat":
        result["senses"] = _text(_get(entry, "senses", reading, name), reading, f"{name}.senses")
    if "charge" in entry:
        result["charge"] = _charge(entry["charge"], reading, f"{name}.charge")
    if kind == "charge cooler" and "charge" not in entry and not {"gas_rate", "gas_inlet"} <= set(entry):
        raise reading.wrong(name, "needs the charge air", "give charge, or gas_rate and gas_inlet")
    result["heat"] = _names(entry.get("heat", []), reading, f"{name}.heat")
    return result


def _pipe_bore(entry: dict[str, Any], result: dict[str, Any], reading: Reading, name: str) -> None:
    """Inside diameter, given or from the outside diameter as measured."""
    if "diameter" in entry:
        return
    if "outside_diameter" not in entry:
        raise reading.wrong(f"{name}.diameter", "is missing", "give diameter (inside) or outside_diameter, in mm")
    result["wall"] = _figure(entry.get("wall"), reading, f"{name}.wall", assumed.PIPE_FIELDS["wall"])
    bore = result["outside_diameter"] - 2.0 * result["wall"]
    if np.any(bore <= 0.0):
        raise reading.wrong(f"{name}.wall", "leaves no bore in some draws", "give a thinner wall")
    result["diameter"] = bore


def read_ducts(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Ducts by name: cores front to back, openings, fan."""
    result = {}
    for name, entry in _table(raw, reading, "", "ducts, by name").items():
        wide = assumed.WIDENING_FIELDS
        reading.table(entry, name, ("cores", "inlet_area", "outlet_area"), (*assumed.DUCT_FIELDS, *wide, "fan"))
        figures = dict(assumed.DUCT_FIELDS)
        if "widening_length" in entry and "loss" not in entry:
            del figures["loss"]
            figures |= wide
        given = {**_from_aero(name, reading), **entry}
        found: dict[str, Any] = {
            key: _figure(given.get(key), reading, f"{name}.{key}", field)
            for key, field in figures.items()
            if key in given or field.assumption is not None
        }
        found["cores"] = _names(entry["cores"], reading, f"{name}.cores")
        if not found["cores"]:
            raise reading.wrong(f"{name}.cores", "is empty", "name the cores front to back")
        if entry.get("fan") is not None:
            reading.table(entry["fan"], f"{name}.fan", ("free_flow",), tuple(assumed.FAN_FIELDS))
            found["fan"] = {
                key: _figure(entry["fan"].get(key), reading, f"{name}.fan.{key}", field)
                for key, field in assumed.FAN_FIELDS.items()
                if key in entry["fan"] or field.assumption is not None
            }
        result[name] = found
    return result


#: What of a duct the aero sheet hands on where it knows an opening of the duct's name.
FROM_AERO = {"inlet_recovery": "inlet_recovery", "outlet_cp": "outlet_pressure"}


def _from_aero(name: str, reading: Reading) -> dict[str, Any]:
    """Links to the aero sheet's opening of this duct, where it ran before on the same car."""
    place = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
    links = {key: f"aero.{output}.{place}" for key, output in FROM_AERO.items()}
    there = {key: reading.known.get(f"output:{link}") for key, link in links.items()}
    return {
        key: {"output": links[key]}
        for key, number in there.items()
        if number is not None and number.n == reading.draws and np.all(np.isfinite(number.draws))
    }


def read_exchangers(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Liquid-to-liquid exchangers by name: two passages, conductance, arrangement."""
    result = {}
    for name, entry in _table(raw, reading, "", "exchangers, by name").items():
        reading.table(entry, name, ("first", "second", "conductance"), ("arrangement",))
        result[name] = {
            "first": _text(entry["first"], reading, f"{name}.first"),
            "second": _text(entry["second"], reading, f"{name}.second"),
            "conductance": _figure(entry["conductance"], reading, f"{name}.conductance", Field("W/K", "W/K", (1, 1e5))),
            "arrangement": _word(
                entry.get("arrangement", "counterflow"),
                reading,
                f"{name}.arrangement",
                ("counterflow", "parallel_flow", "shell_and_tube"),
            ),
        }
    return result


def read_limits(raw: Any, reading: Reading) -> dict[str, dict[str, Any]]:
    """Temperature limits by name: at which node of which circuit, how hot, and what says so."""
    result = {}
    for name, entry in _table(raw, reading, "", "limits, by name").items():
        reading.table(entry, name, ("circuit", "node", "temperature"), ())
        result[name] = {
            "circuit": _text(entry["circuit"], reading, f"{name}.circuit"),
            "node": _text(entry["node"], reading, f"{name}.node"),
            "temperature": _figure(
                entry["temperature"], reading, f"{name}.temperature", Field("K", "°C", (253.15, 473.15))
            ),
        }
    if not result:
        raise reading.wrong("", "is empty", "give at least one limit")
    return result


def read_cases(raw: Any, reading: Reading) -> list[dict[str, Any]]:
    """Driving cases: a list of {"name", "drive", "speed", …}.

    drive: "full" (full load), "lap" (a share of the time at full load), "hold" (standing, load given) or
    "climb" (load from grade and mass). Speeds are exact: they are the axis of the curves.
    """
    if not isinstance(raw, list) or not 1 <= len(raw) <= 200:
        raise reading.wrong("", "must be a list of cases", "1 to 200 of them")
    result = []
    for k, entry in enumerate(raw):
        where = f"[{k}]"
        reading.table(entry, where, ("speed",), ("name", "drive", *assumed.CASE_FIELDS))
        drive = _word(entry.get("drive", "full"), reading, f"{where}.drive", ("full", "lap", "hold", "climb"))
        speed = _unrecorded(entry["speed"], reading, f"{where}.speed", assumed.CASE_FIELDS["speed"])
        if np.ptp(speed) > 0.0:
            raise reading.wrong(f"{where}.speed", "has a spread", "give cases at exact speeds")
        case: dict[str, Any] = {"drive": drive, "speed": float(speed[0])}
        case["name"] = _text(entry.get("name", f"{drive} {case['speed'] * 3.6:.0f} km/h"), reading, f"{where}.name")
        for key in _CASE_NEEDS[drive]:
            field = assumed.CASE_FIELDS[key]
            if key in entry or field.assumption is not None:
                case[key] = _figure(
                    entry.get(key), reading, f"case.{key}" if key not in entry else f"{where}.{key}", field
                )
            elif key != "load":
                raise reading.wrong(f"{where}.{key}", "is missing", f"a {drive} needs it, in {field.shown or 'shares'}")
        result.append(case)
    return result


_CASE_NEEDS: dict[str, tuple[str, ...]] = {
    "full": ("load",),
    "lap": ("full_load_share", "part_load"),
    "hold": ("load",),
    "climb": ("grade", "mass", "drag_area", "rolling", "full_power"),
}


def read_lines(raw: Any, reading: Reading) -> dict[str, Any]:
    """Measured lines for bleeding: {"lines": {name: places}, "bleed": name or names, "outlets": [place, …]}."""
    entry = reading.table(raw, "", ("lines", "outlets"), ("bleed",))
    lines = {
        name: read_line(value, reading, f"lines.{name}")
        for name, value in _table(entry["lines"], reading, "lines", "lines, by name").items()
    }
    outlets = entry["outlets"]
    if isinstance(outlets, dict) and isinstance(outlets.get("value"), list):
        outlets = [{**outlets, "value": place} for place in outlets["value"]]
    if not isinstance(outlets, list) or not 0 < len(outlets) <= 50:
        raise reading.wrong("outlets", "is no list of places", "write [[x, y, z], …]")
    places = [np.median(read_place(place, reading, f"outlets[{k}]"), axis=0) for k, place in enumerate(outlets)]
    bleeds = [entry["bleed"]] if isinstance(entry.get("bleed"), str) else entry.get("bleed") or []
    if not isinstance(bleeds, list):
        raise reading.wrong("bleed", "must be the name of a line, or a list of names", f"of {', '.join(lines)}")
    for bleed in bleeds:
        if bleed not in lines:
            raise reading.wrong("bleed", f"there is no line {bleed!r}", f"one of {', '.join(lines)}")
    return {"lines": lines, "outlets": np.array(places), "bleed": tuple(bleeds)}


_WHOLE = ("connectors", "pipes_between", "tees", "pumps", "tanks")
_DIAMETERS = ("inlet_diameter", "outlet_diameter", "supply_diameter", "branch_diameter", "at_connector", "far_end")


def read_readings(raw: Any, reading: Reading) -> dict[str, list[dict[str, Any]]]:
    """What was seen of collectors and pipes: {"collectors": [{…}], "plumbing": [{…}]}.

    ``on`` names what was looked at (marks, points, shots, facts); figures linked to the dossier add their own trail.
    """
    entry = reading.table(raw, "", (), ("collectors", "plumbing"))
    collector: tuple[str, ...] = (
        "same_side",
        "same_end",
        "taper",
        "at_connector",
        "far_end",
        "thick_at_connector",
        "step",
    )
    collector += ("inlet_diameter", "outlet_diameter", "connectors", "inlet_high", "bleed_at_top", "on")
    plumbing: tuple[str, ...] = ("pipes_between", "tees", "supply_diameter", "branch_diameter", "pumps", "tanks", "on")
    result: dict[str, list[dict[str, Any]]] = {"collectors": [], "plumbing": []}
    for group, required, optional in (("collectors", ("core",), collector), ("plumbing", ("cores",), plumbing)):
        items = entry.get(group, [])
        if not isinstance(items, list) or len(items) > MAX_PARTS:
            raise reading.wrong(group, "must be a list of what was seen", "[{…}]")
        for k, item in enumerate(items):
            result[group].append(
                _one_reading(reading.table(item, f"{group}[{k}]", required, optional), reading, group, k)
            )
    return result


def _one_reading(item: dict[str, Any], reading: Reading, group: str, k: int) -> dict[str, Any]:
    where = f"{group}[{k}]"
    found: dict[str, Any] = {}
    rests_on: set[str] = set(_records(item.get("on", []), reading, f"{where}.on"))
    for key, value in item.items():
        if key == "taper" or key in _DIAMETERS:
            field = Field("1", "", (0.01, 1.0)) if key == "taper" else Field("m", "mm", (0.001, 0.2))
            found[key] = _figure(value, reading, f"{where}.{key}", field)
            rests_on |= set(reading.numbers[f"{reading.name}.{where}.{key}"].origin.records())
        elif key in _WHOLE:
            found[key] = _whole(value, reading, f"{where}.{key}", 0, 50)
        elif key == "core":
            found[key] = _text(value, reading, f"{where}.{key}")
        elif key == "cores":
            found[key] = _names(value, reading, f"{where}.{key}")
            if len(found[key]) != 2:
                raise reading.wrong(f"{where}.{key}", "must name two cores", '["left", "right"]')
        elif key != "on":
            found[key] = _truth(value, reading, f"{where}.{key}")
    if ("at_connector" in found) != ("far_end" in found):
        raise reading.wrong(where, "needs both ends of the collector", "give at_connector and far_end")
    if "at_connector" in found:
        if "taper" in found:
            raise reading.wrong(where, "has a taper twice", "give taper, or at_connector and far_end")
        at, far = found.pop("at_connector"), found.pop("far_end")
        found["taper"] = np.minimum(at, far) / np.maximum(at, far)
        found.setdefault("thick_at_connector", bool(np.median(at) >= np.median(far)))
    return {**found, "rests_on": tuple(sorted(rests_on))}


_RECORD_KINDS = ("mark", "point", "circle", "measure", "fact", "shot")


def _records(raw: Any, reading: Reading, where: str) -> list[str]:
    """Ids of what was looked at, ``kind:id``."""
    values = [raw] if isinstance(raw, str) else raw
    if not isinstance(values, list) or len(values) > MAX_PARTS:
        raise reading.wrong(where, "must be a list of what was looked at", '["shot:…", "point:…"]')
    for value in values:
        kind = value.partition(":")[0] if isinstance(value, str) else ""
        if kind not in _RECORD_KINDS or not 3 < len(value) <= 200:
            raise reading.wrong(
                where, f"{value!r} names nothing that can be looked at", '"shot:…", "mark:…", "point:…"'
            )
    return list(values)


# ---------------------------------------------------------------- small readers


def _figure(raw: Any, reading: Reading, name: str, field: Field, shape: tuple[int, ...] | None = ()) -> np.ndarray:
    return reading.number(
        raw,
        name,
        field.unit,
        shown=field.shown,
        plausible=field.plausible,
        shape=shape,
        assumption=field.assumption if raw is None else None,
        reason=field.reason,
    )


def _unrecorded(raw: Any, reading: Reading, name: str, field: Field, shape: tuple[int, ...] | None = ()) -> np.ndarray:
    """A figure that is a setting, not a quantity: checked like one, but no input of the answer's width."""
    apart = Reading(reading.where, reading.name, reading.draws, reading.scope, reading.known)
    return _figure(raw, apart, name, field, shape)


def _table(raw: Any, reading: Reading, name: str, what: str) -> dict[str, Any]:
    if not isinstance(raw, dict):
        raise reading.wrong(name, f"must be an object of {what}", "{…}")
    for key in raw:
        _text(key, reading, name)
    return raw


def _get(raw: Any, key: str, reading: Reading, name: str) -> Any:
    if not isinstance(raw, dict):
        raise reading.wrong(name, "must be an object {…}", "see docs/cooling.md")
    if key not in raw:
        raise reading.wrong(f"{name}.{key}", "is missing", "see docs/cooling.md")
    return raw[key]


def _word(raw: Any, reading: Reading, name: str, options: tuple[str, ...]) -> str:
    if not isinstance(raw, str) or raw not in options:
        raise reading.wrong(name, f"{raw!r} is not known", f"one of: {', '.join(options)}")
    return raw


def _text(raw: Any, reading: Reading, name: str) -> str:
    if not isinstance(raw, str) or not 0 < len(raw.strip()) <= 80 or ":" in raw:
        raise reading.wrong(name, "must be a short text without a colon", "give it a name")
    return raw


def _names(raw: Any, reading: Reading, name: str) -> tuple[str, ...]:
    values = [raw] if isinstance(raw, str) else raw
    if not isinstance(values, list):
        raise reading.wrong(name, "must be a name or a list of names", '["…"]')
    return tuple(_text(value, reading, name) for value in values)


def _truth(raw: Any, reading: Reading, name: str) -> bool:
    if not isinstance(raw, bool):
        raise reading.wrong(name, "must be true or false", "write true or false")
    return raw


def _whole(raw: Any, reading: Reading, name: str, low: int, high: int) -> int:
    if not isinstance(raw, int) or isinstance(raw, bool) or not low <= raw <= high:
        raise reading.wrong(name, f"must be a whole number from {low} to {high}", "correct it")
    return raw
