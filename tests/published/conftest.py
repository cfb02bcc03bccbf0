"""Fixtures that the published files are read through: the little car's dossier, its film."""

from __future__ import annotations

from tests.publish.conftest import _published_car, car, film_of_car, opened  # noqa: F401
