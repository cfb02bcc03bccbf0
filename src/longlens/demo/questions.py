"""What the engineer of the demo asks, claims and forecasts of the Fulmar.

The six forecasts are made of the test car alone, before anything of the shown car is in the dossier; four are resolved by what
the shown car brought. The questions and their evidence lie in ``data/fulmar.questions.json``. All of it is invented.
"""

from __future__ import annotations

import json
from typing import Any

from longlens.claims import forecasts
from longlens.claims.put import put
from longlens.claims.records import Forecast, Question
from longlens.demo.stages import DATA, Progress, Result
from longlens.dossier.editions import freeze
from longlens.dossier.records import Fact
from longlens.dossier.store import Dossier

FIRST_LOOK = "first look"
TEST_STAGE, SHOWN_STAGE = "test", "shown"
FORECASTS: tuple[dict[str, Any], ...] = (
    {"id": "taller coolers", "text": "The shown car has taller side-pod coolers than the test car.", "probability": 0.6,
     "why": "the test car's look small for its power", "settles": "the shown car with a pod open"},
    {"id": "front pushrods stay", "text": "The front pushrods of the shown car are as long as the test car's to 10 mm.",
     "probability": 0.75, "why": "suspensions seldom change between a test car and the shown one",
     "settles": "the shown car with its hatch off"},
    {"id": "mass", "text": "Mass on the maker's sheet.", "low": 590.0, "high": 680.0, "level": 0.9, "unit": "kg",
     "why": "battery, tyres and size of cars of its kind", "settles": "the press sheet"},
    {"id": "power", "text": "Power on the maker's sheet.", "low": 280.0, "high": 360.0, "level": 0.8, "unit": "kW",
     "why": "what the coolers would bear", "settles": "the press sheet"},
    {"id": "one loop", "text": "The maker will say that the side-pod coolers share one loop.", "probability": 0.65,
     "why": "one bleed line is seen", "settles": "the maker's technical sheet, or a car with its floor off"},
    {"id": "fans", "text": "A cooler has a fan when the car first runs in public.", "probability": 0.4,
     "why": "it stands still in the sun before a run", "settles": "photographs of the first public run"},
)  # fmt: skip
RESOLUTIONS: tuple[dict[str, Any], ...] = (
    {"id": "taller coolers", "text": "The main coolers of the shown car measure some 320 mm, the test car's some 296 mm.",
     "happened": True, "evidence": ["measure:left.cooler.height"]},
    {"id": "front pushrods stay", "text": "The shown car's front pushrods are about 30 mm longer.", "happened": False,
     "evidence": ["measure:left.front.pushrod"]},
    {"id": "mass", "text": "620 kg on the press sheet.", "value": 620.0, "evidence": ["fact:sheet.mass_kg"]},
    {"id": "power", "text": "320 kW on the press sheet.", "value": 320.0, "evidence": ["fact:sheet.power_kW"]},
)  # fmt: skip


def first_look(dossier: Dossier, result: Result) -> None:
    """When the test car of the Fulmar has been gathered: freeze that state and forecast."""
    if result.car != "fulmar" or result.stage != TEST_STAGE:
        return
    freeze(dossier, FIRST_LOOK, note="the test car in the paddock, before the car was shown")
    for one in FORECASTS:
        forecasts.make(dossier, **{**one, "edition": FIRST_LOOK})


def keep_questions(dossier: Dossier, result: Result, progress: Progress) -> None:
    """When the shown car is surveyed: what came of the forecasts, and the questions with their evidence."""
    if result.car != "fulmar" or result.stage != SHOWN_STAGE or dossier.find(Question, "plumbing") is not None:
        return
    for one in RESOLUTIONS:
        known = all(not e.startswith("fact:") or dossier.find(Fact, e[5:]) is not None for e in one["evidence"])
        if known and dossier.find(Forecast, one["id"]) is not None:
            forecasts.resolve(dossier, **one)
    for data in json.loads((DATA / "fulmar.questions.json").read_text(encoding="utf-8")):
        put(dossier, data, "the demo's story")
