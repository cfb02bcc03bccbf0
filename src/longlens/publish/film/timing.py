"""Easing, and when a scene's parts come. All times in seconds from the scene's beginning."""

from __future__ import annotations

from dataclasses import dataclass

#: Pauses and lengths of a scene's parts, s.
FADE, MOVE, DIM, DRAW, APPEAR = 0.5, 1.9, 0.6, 0.8, 0.35
BEFORE_WORDS, AFTER_WORDS = 0.5, 0.9
LEAST = 3.5


def eased(t: float) -> float:
    """From 0 to 1 with a soft start and end: Perlin's polynomial 6t⁵ − 15t⁴ + 10t³ (no jump in speed or acceleration)."""
    t = min(max(t, 0.0), 1.0)
    return t * t * t * (t * (6 * t - 15) + 10)


def spoken_seconds(words: str, per_minute: float) -> float:
    """How long a voice takes: by the count of words, and a pause for every sentence (0.35 s) and comma (0.15 s)."""
    count = len(words.split())
    stops = sum(words.count(c) for c in ".!?:;")
    return 60.0 * count / per_minute + 0.35 * stops + 0.15 * words.count(",")


@dataclass(frozen=True)
class Plan:
    """When the parts of one scene come.

    Parameters
    ----------
    seconds : how long it lasts.
    moves : the eye travels over a photograph first.
    steps : how many things appear one after another.
    """

    seconds: float
    moves: bool
    steps: int

    @property
    def arrived(self) -> float:
        """The eye has arrived, the words stand."""
        return min(0.2 + MOVE, 0.4 * self.seconds) if self.moves else min(FADE, 0.3 * self.seconds)

    @property
    def lit(self) -> float:
        """The rest has been darkened."""
        return self.arrived + DIM

    def begins(self, step: int) -> float:
        """When a step begins: spread over what is left, the last one with time to be read."""
        room = max(self.seconds - self.lit - DRAW - APPEAR - 1.2, 0.0)
        gap = min(room / max(self.steps, 1), 2.4)
        return self.arrived + 0.35 + (step - 1) * gap

    def ends(self, step: int) -> float:
        return self.begins(step) + DRAW + APPEAR


def least_seconds(steps: int, moves: bool) -> float:
    """The shortest time in which a scene can be taken in."""
    return max(LEAST, (MOVE if moves else FADE) + DIM + 1.0 * steps + 1.6)
