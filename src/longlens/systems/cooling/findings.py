"""Findings read from a solution: stagnant or reversed branches, heat with no exit, boiling, no air."""

from __future__ import annotations

import numpy as np

from .components import Pump
from .model import Circuit, Finding, Network, Solution, nodes_of


def find(network: Network, solution: Solution) -> list[Finding]:
    """Findings from the numbers of a solution, over all circuits and ducts."""
    found: list[Finding] = []
    for circuit in network.circuits:
        found += _find_in_circuit(circuit, solution)
    for duct in network.ducts:
        dry = np.mean(solution.air_flow[duct.cores[-1]] <= 0.0)
        if dry > 0.0:
            found.append(
                Finding(
                    f"nothing drives air through duct {duct.name} in {dry:.0%} of the cases: "
                    f"no air for {', '.join(duct.cores)}",
                    duct.name,
                    "problem",
                    float(dry),
                )
            )
    restless = float(np.mean(~np.asarray(solution.converged)))
    if restless > 0.0:
        found.append(
            Finding(
                f"{percent(restless)} of the cases have no steady answer; their temperatures are left out",
                "network",
                "problem",
                restless,
            )
        )
    return found


def percent(share: float) -> str:
    """A share of the cases; a few among thousands are told as such."""
    return f"{share:.1%}" if share >= 0.001 else "under 0.1%"


def _find_in_circuit(circuit: Circuit, solution: Solution) -> list[Finding]:
    found = []
    largest = sum(np.abs(solution.flow[part.name]) for part in circuit.parts) / len(circuit.parts)
    for part in circuit.parts:
        flow = solution.flow[part.name]
        still = np.abs(flow) < 1e-4 * np.maximum(largest, 1e-6)
        share = float(np.mean(still))
        hot = bool(np.any(np.asarray(part.heat()) * still > 0.0))
        if share > 0.0:
            text = f"{part.name} is stagnant" + (" though heat goes in there: no steady temperature" if hot else "")
            found.append(Finding(text, part.name, "problem" if hot else "note", share))
        back = float(np.mean((flow < 0.0) & ~still))
        if back > 0.0:
            told = f"{part.name} flows backwards, from {part.end} to {part.start}"
            level = "problem" if isinstance(part, Pump) else "warning"
            found.append(Finding(told, part.name, level, back))
    lost = [np.isnan(solution.temperature[key]) for key in nodes_of(circuit)]
    share = float(np.mean(np.any(lost, axis=0)))
    if share > 0.0:
        found.append(Finding(f"heat in circuit {circuit.name} has nowhere to go", circuit.name, "problem", share))
    boiling = boils(circuit, solution)
    if boiling > 0.0:
        found.append(
            Finding(
                f"circuit {circuit.name} would boil at its cap pressure in {percent(boiling)} of the cases",
                circuit.name,
                "problem",
                boiling,
            )
        )
    return found


def boils(circuit: Circuit, solution: Solution) -> float:
    """Share of the cases in which the hottest node lies above boiling at the cap's pressure."""
    limit = circuit.liquid.boiling_temperature(circuit.pressure)
    hottest = np.fmax.reduce([solution.temperature[key] for key in nodes_of(circuit)])
    return float(np.mean(hottest > limit))
