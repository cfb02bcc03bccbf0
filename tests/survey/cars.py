"""Small invented cars for the tests, and ways of changing their documents."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
from tools.studies.simulated_cars import Case, simulate

from longlens.dossier.exchange import read_exchange
from longlens.survey.answer import solve
from longlens.survey.camera import project


def small(seed: int, **how: Any) -> Case:
    """Three shots, ten pairs or so: solved in about half a second."""
    return simulate(seed, **({"shots": 3, "pairs": 10} | how))


def answer(document: dict) -> dict:
    return solve(read_exchange(document)[0]).answer()


def inside(got: dict, truth: dict) -> list[bool]:
    return [m["low95"] <= truth[k] <= m["high95"] for k, m in got["measures"].items()]


def off(got: dict, truth: dict) -> np.ndarray:
    """Errors over standard deviations."""
    return np.array([(m["value"] - truth[k]) / m["sd"] for k, m in got["measures"].items()])


def twin(name: str) -> str:
    if name.startswith("left."):
        return "right." + name[5:]
    return "left." + name[6:] if name.startswith("right.") else name


def without_frame(case: Case) -> dict:
    """The document with nothing that lays a frame: no twins, no planes, no lateral axes."""
    doc = copy.deepcopy(case.document)
    doc["points"] = [{"id": p["id"]} for p in doc["points"]]
    doc["circles"] = [{"id": c["id"], "centre": c["centre"]} for c in doc.get("circles", [])]
    return doc


def see(case: Case, shot: str, xyz: np.ndarray) -> np.ndarray:
    c = case.cameras[shot]
    return project(np.asarray(xyz, float), c["R"], c["C"], c["f"], c["k1"], c["principal"])
