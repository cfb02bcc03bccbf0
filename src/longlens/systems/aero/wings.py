"""A wing from its elements: sections, ground and finite span put together; the limit of lift; drag."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array
from longlens.systems.aero import aerofoil, lifting_line


@dataclass(frozen=True)
class Element:
    """One element: chord m, angle against the road rad (trailing edge up positive), camber over its chord, the share of
    the wing's span that it covers, and the gap to the element ahead, m, where it was measured."""

    name: str
    chord: Array
    angle: Array
    camber: Array
    span_share: Array = field(default_factory=lambda: np.asarray(1.0))
    gap: Array | None = None


@dataclass(frozen=True)
class Wing:
    """A wing of one to four elements.

    span, height (of the front element's quarter chord over the road at rest), behind (its quarter chord behind the front axle),
    end_plate (height of the plates) : m, (N,). plate_to_ground : foot plates near the road. positions : name → angles.
    """

    name: str
    span: Array
    height: Array
    behind: Array
    end_plate: Array
    elements: tuple[Element, ...]
    positions: dict[str, tuple[Array, ...]] = field(default_factory=dict)

    @property
    def chord(self) -> Array:
        """Of the whole chain where all elements are, m."""
        return np.asarray(sum(np.asarray(e.chord) for e in self.elements))

    @property
    def area(self) -> Array:
        """Plan area, m²: each element on its share of the span."""
        return np.asarray(self.span) * sum(np.asarray(e.chord) * e.span_share for e in self.elements)


@dataclass(frozen=True)
class Errors:
    """Model errors as factors (N,): slope of the sections, effect of the flaps, gain by the ground, limit of lift, profile
    drag."""

    slope: ArrayLike = 1.0
    flaps: ArrayLike = 1.0
    ground: ArrayLike = 1.0
    limit: ArrayLike = 1.0
    profile: ArrayLike = 1.0


@dataclass(frozen=True)
class Loads:
    """lift_area, drag_area m²; lift coefficient on the plan area; use: section's lift over its limit before it is rounded off;
    induced share of the drag; loading (..., P) share of the lift per unit of half span; chokes: the gap to the road is too
    small."""

    lift_area: Array
    drag_area: Array
    coefficient: Array
    use: Array
    induced_area: Array
    loading: Array
    chokes: Array


def section_angle(wing: Wing, errors: Errors, angles: tuple[Array, ...] | None = None) -> Array:
    """Absolute angle (rad), with the flaps' part scaled by its error and weighed by the span they cover."""
    used = [e.angle for e in wing.elements] if angles is None else list(angles)
    chords = [e.chord * e.span_share for e in wing.elements]
    cambers = [e.camber for e in wing.elements]
    flat = aerofoil.absolute_angle(chords, [used[0]] * len(used), cambers)
    whole = aerofoil.absolute_angle(chords, used, cambers)
    return flat + (whole - flat) * np.asarray(errors.flaps)


def loads(
    wing: Wing,
    errors: Errors,
    drop: ArrayLike = 0.0,
    angles: tuple[Array, ...] | None = None,
    pressure: ArrayLike = 1.0,
    turn: ArrayLike = 0.0,
) -> Loads:
    """Lift and drag of a wing at a drop of its height (m).

    ``pressure``: mean dynamic pressure of the stream that reaches it over the car's own; ``turn``: of that stream, upwards, rad,
    which a wing for downforce meets at so much less of an angle. Coefficients stay on the car's own dynamic pressure.

    The section's lift slope is 2π times its loss by viscosity (0.92) and the ground's gain; the lifting line with the image gives
    the induced angle; the section's lift is rounded off to its limit. The gain depends on the effective angle: three rounds.
    """
    area, span = np.asarray(wing.area), np.asarray(wing.span)
    chord = area / span
    height = np.asarray(wing.height) - np.asarray(drop)
    absolute = section_angle(wing, errors, angles) - np.asarray(turn)
    share = lifting_line.end_plate_factor(wing.end_plate, span)
    effective = 0.7 * absolute
    found: Any = None
    for _ in range(3):
        ground = aerofoil.ground_gain(height, wing.chord, np.maximum(effective, 0.0))
        gain = 1 + (ground.gain - 1) * np.asarray(errors.ground)
        slope = 2 * np.pi * 0.92 * np.asarray(errors.slope) * gain
        found = lifting_line.solve(span, chord, absolute, slope, np.maximum(height, 0.02), share)
        effective = found.effective
    section = found.lift * _peak(found.loading)
    middle, _ = aerofoil.FREE_LIMIT[min(len(wing.elements), 4)]
    limit = middle * np.asarray(errors.limit) * (1 + 0.35 * np.maximum(gain - 1, 0.0))
    kept = aerofoil.limited(section, limit) / np.where(section == 0, 1.0, section)
    lift = found.lift * np.where(section == 0, 1.0, kept)
    induced = found.induced * np.where(section == 0, 1.0, kept) ** 2
    profile = profile_drag(len(wing.elements), section / limit) * np.asarray(errors.profile)
    loading = found.loading / np.sum(found.loading, axis=-1, keepdims=True)
    q = np.asarray(pressure)
    return Loads(
        lift * area * q,
        (profile + np.maximum(induced, 0.0)) * area * q,
        lift * q,
        section / limit,
        induced * area * q,
        loading,
        ground.chokes,
    )


def _peak(loading: Array) -> Array:
    """Greatest local lift over the mean one, on a rectangular wing."""
    weight = np.sin(lifting_line.stations()) * np.pi / (2 * lifting_line.TERMS)
    mean = np.sum(loading * weight, axis=-1)
    return np.max(loading, axis=-1) / np.where(mean == 0, 1.0, mean)


def profile_drag(elements: int, use: ArrayLike) -> Array:
    """Profile drag coefficient on the plan area: 0.012 for one element, half as much more for each further one, growing with the
    square of the use of the lift and steeply beyond its limit (shape after Abbott and von Doenhoff's polars; common practice)."""
    u = np.abs(np.asarray(use, float))
    return 0.012 * (1 + 0.5 * (elements - 1)) * (1 + 1.5 * u**2) + 0.12 * np.maximum(u - 1, 0.0)
