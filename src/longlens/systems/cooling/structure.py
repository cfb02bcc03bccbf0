"""Is this a network at all? Errors for what cannot be solved, findings for what is odd."""

from __future__ import annotations

import numpy as np

from ...errors import UnusableInput
from .components import CorePart, Passage, Pump, Thermostat
from .hydraulics import find_loops
from .model import Circuit, Finding, Network


def check(network: Network) -> list[Finding]:
    """Structure only: raise on what cannot be solved, return what is odd."""
    _check_names(network)
    findings = []
    for circuit in network.circuits:
        findings += _check_circuit(circuit)
    findings += _check_links(network)
    return findings


def _check_names(network: Network) -> None:
    names = [part.name for circuit in network.circuits for part in circuit.parts]
    names += [core.name for core in network.gas_cores]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise UnusableInput(
            f"the name {', '.join(twice)} is used for more than one part", fix="give every part its own name"
        )


def _check_circuit(circuit: Circuit) -> list[Finding]:
    ends: dict[str, list[str]] = {}
    for part in circuit.parts:
        if part.start == part.end:
            raise UnusableInput(
                f"both ends of {part.name} are at {part.start}",
                where=f"circuit {circuit.name}",
                fix="a part joins two different nodes",
            )
        ends.setdefault(part.start, []).append(part.name)
        ends.setdefault(part.end, []).append(part.name)
    loose = {name: parts[0] for name, parts in ends.items() if len(parts) == 1}
    if loose:
        told = "; ".join(f"{part} ends at {name}, where nothing else joins" for name, part in sorted(loose.items()))
        raise UnusableInput(
            f"the loop is open: {told}",
            where=f"circuit {circuit.name}",
            fix="join the end to the next part's node",
        )
    loops = find_loops(list(circuit.parts), {part.name: 1.0 for part in circuit.parts})
    pumps = [name for name in loops.dead if isinstance(loops.parts[name], Pump)]
    if pumps:
        raise UnusableInput(
            f"the pump {pumps[0]} has no way back: no closed path leads through it",
            where=f"circuit {circuit.name}",
            fix="add the return from its outlet to its inlet",
        )
    findings = [Finding(f"{name} lies on no closed path: nothing flows there", name, "problem") for name in loops.dead]
    if not any(isinstance(part, Pump) for part in circuit.parts):
        findings.append(Finding(f"circuit {circuit.name} has no pump: nothing flows", circuit.name, "problem"))
    return findings


def _check_links(network: Network) -> list[Finding]:
    parts = {part.name: part for circuit in network.circuits for part in circuit.parts}
    cores = {name for name, part in parts.items() if isinstance(part, CorePart)}
    cores |= {core.name for core in network.gas_cores}
    aired: dict[str, str] = {}
    for duct in network.ducts:
        for name in duct.cores:
            if name not in cores:
                raise UnusableInput(f"duct {duct.name} leads to {name}, which is no core", fix="name a core")
            if name in aired:
                raise UnusableInput(
                    f"core {name} stands in two ducts, {aired[name]} and {duct.name}",
                    fix="a core belongs to one duct; side-by-side halves are two cores",
                )
            aired[name] = duct.name
        if len(duct.cores) != 2 and np.any(np.asarray(duct.coverage) < 1.0):
            raise UnusableInput(
                "partial coverage is worked out for exactly two cores",
                where=f"duct {duct.name}",
                fix="set it to 1",
            )
    for exchanger in network.exchangers:
        for side in (exchanger.first, exchanger.second):
            if not isinstance(parts.get(side), Passage):
                raise UnusableInput(
                    f"exchanger {exchanger.name} names {side}, which is no passage of any circuit",
                    fix="give each side as a passage in its circuit",
                )
    for circuit in network.circuits:
        nodes = {end for part in circuit.parts for end in (part.start, part.end)}
        for part in circuit.parts:
            if isinstance(part, Thermostat) and part.senses not in nodes:
                raise UnusableInput(
                    f"thermostat {part.name} senses {part.senses!r}, which is no node of its circuit",
                    where=f"circuit {circuit.name}",
                    fix=f"one of {', '.join(sorted(nodes))}",
                )
    return [
        Finding(f"core {name} gets no air: no duct leads to it", name, "problem") for name in sorted(cores - set(aired))
    ]
