"""Finding parts by what people call them: synonyms count, slips of the keyboard are forgiven."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from longlens.dossier.vocabulary.entries import GROUPS, Part, parts
from longlens.dossier.vocabulary.naming import compose

#: Short forms that people type for side and axle.
SHORT = {
    "l": ("left", ""), "r": ("right", ""), "left": ("left", ""), "right": ("right", ""), "lh": ("left", ""), "rh": ("right", ""),
    "front": ("", "front"), "rear": ("", "rear"), "f": ("", "front"),
    "lf": ("left", "front"), "fl": ("left", "front"), "rf": ("right", "front"), "fr": ("right", "front"),
    "lr": ("left", "rear"), "rl": ("left", "rear"), "rr": ("right", "rear"),
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """A part that was found: the phrase that matched, and how well (1 exact, less is worse)."""

    part: Part
    matched: str
    score: float


@dataclass(frozen=True)
class Offer:
    """A whole name to offer while somebody types. ``form`` is point, rim, line, outline, pipe, or part for the part itself."""

    id: str
    form: str
    part: Part
    score: float


def search(text: str, *, own: Iterable[Part] = (), system: str | None = None, limit: int | None = 20) -> list[Found]:
    """Parts that ``text`` may mean, the likeliest first; every part for an empty text.

    Parameters
    ----------
    own : the user's own parts.
    system : a system of the dossier or a group of ``GROUPS``.
    """
    entries = [p for p in (*own, *parts().values()) if system is None or system in (p.system, p.group)]
    asked = _words(text)
    if not asked:
        return [Found(p, p.term, 1.0) for p in entries][:limit]
    found = [f for f in (_match(asked, p) for p in entries) if f is not None]
    order = {g: i for i, g in enumerate(GROUPS)}
    found.sort(key=lambda f: (-round(f.score, 3), order.get(f.part.group, -1), len(f.part.id)))
    return found[:limit]


def suggest(text: str, *, own: Iterable[Part] = (), limit: int = 12, forms: Sequence[str] = ()) -> list[Offer]:
    """Whole names that fit what was typed so far: ``lf upper wishbone out`` → ``left.front.upper_wishbone.outer``.

    Side and axle may be typed anywhere, in full or short; where they are missing and the part has them, both are offered.
    ``forms``: only names for marks of these forms.
    """
    out: dict[str, Offer] = {}
    own = list(own)
    words = _words(text)
    for with_end in (True, False):  # "rear" may be the axle, or a word of the part's or the point's name
        side, end, rest = _side_and_end(words, with_end)
        for head in range(len(rest), 0, -1):  # the first words name the part, the others the point
            for f in search(" ".join(rest[:head]), own=own, limit=6):
                if end and f.part.place in ("side", "one"):
                    continue  # this part has no axle: the other reading is meant
                for form, name, weight in _to_offer(f.part, rest[head:]):
                    if forms and form not in forms:
                        continue
                    for s, e in _places(f.part, side, end):
                        id = compose(f.part.id, name, side=s, end=e)
                        score = f.score * weight
                        if id not in out or out[id].score < score:
                            out[id] = Offer(id, form, f.part, score)
    return sorted(out.values(), key=lambda o: (-round(o.score, 3), o.id))[:limit]


def _to_offer(part: Part, tail: list[str]) -> Iterator[tuple[str, str, float]]:
    """(form, name, how well it fits the words after the part's)."""
    for form, names in part.to_mark().items():
        for name in names:
            if not tail:
                yield form, name, 0.95
                continue
            words = _words(name)
            fit = _cover(tail, words) * (0.9 + 0.1 * len(tail) / max(len(tail), len(words)))
            if fit > 0:
                yield form, name, fit
    if not tail:
        yield "part", "", 0.9


def _places(part: Part, side: str, end: str) -> list[tuple[str, str]]:
    """Sides and axles to offer. What was typed counts even where the part usually has none."""
    sides = [side] if side else (["left", "right"] if part.place in ("corner", "side") else [""])
    ends = [end] if end else (["front", "rear"] if part.place in ("corner", "end") else [""])
    return [(s, e) for e in ends for s in sides]


def _side_and_end(words: list[str], with_end: bool) -> tuple[str, str, list[str]]:
    """``front`` and ``rear`` are an axle unless the trade has them in the part's name (front wing) or no word is left."""
    side = end = ""
    rest: list[str] = []
    for k, word in enumerate(words):
        s, e = SHORT.get(word, ("", ""))
        if not with_end and word in ("front", "rear", "f"):
            e = ""
        following = words[k + 1] if k + 1 < len(words) else ""
        named = e and len(word) > 2 and following and _starts_a_term(f"{word} {following}")
        if (not s and not e) or named or (s and side) or (e and end):
            rest.append(word)
            continue
        side, end = side or s, end or e
    return side, end, rest


@lru_cache(maxsize=512)
def _starts_a_term(phrase: str) -> bool:
    return any(term.startswith(phrase) for p in parts().values() for term in (p.term, *map(str.lower, p.synonyms)))


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9]+", text.lower())[:12]


def _match(asked: list[str], part: Part) -> Found | None:
    best: Found | None = None
    for rank, phrase, words in _phrases(part):
        fit = _cover(asked, words)
        if fit <= 0:
            continue
        whole = len(asked) / max(len(asked), len(words))
        score = fit * (0.7 + 0.3 * whole) - 0.01 * (rank > 0)
        if best is None or score > best.score:
            best = Found(part, phrase, score)
    if best is None and len(asked) > 1 and len(" ".join(asked)) > 3:  # every word somewhere in the description
        pool = _words(f"{part.term} {' '.join(part.synonyms)} {part.definition} {part.where}")
        if (fit := _cover(asked, pool)) > 0.9:
            best = Found(part, part.definition, 0.4 * fit)
    return best


@lru_cache(maxsize=1024)
def _phrases(part: Part) -> list[tuple[int, str, list[str]]]:
    said = (part.term, *part.synonyms)
    out = [(i, s, _words(s)) for i, s in enumerate(said)]
    joined = [(i, s, ["".join(w)]) for i, s, w in out if len(w) > 1]  # "wheelnut", "bellcrank"
    return out + joined


def _cover(asked: Sequence[str], words: Sequence[str]) -> float:
    """How well all asked words are found among ``words``: 1 when each is there exactly, 0 when one is missing."""
    total = 0.0
    for a in asked:
        best = max((_alike(a, w) for w in words), default=0.0)
        if best == 0.0:
            return 0.0
        total += best
    return total / len(asked)


@lru_cache(maxsize=65536)
def _alike(a: str, w: str) -> float:
    if a == w:
        return 1.0
    if w.startswith(a):
        return 0.75 + 0.2 * len(a) / len(w)
    if len(a) > 3 and (a.rstrip("s") == w.rstrip("s")):
        return 0.95
    slips = 0 if len(a) < 4 else 1 if len(a) < 8 else 2
    if slips and abs(len(a) - len(w)) <= slips:
        n = _slips(a, w, slips)
        if n <= slips:
            return 0.8 - 0.12 * n
    if slips and len(w) > len(a) and _slips(a, w[: len(a)], 1) <= 1:  # a slip in a word not yet whole
        return 0.6
    return 0.55 if len(a) > 3 and a in w else 0.0


def _slips(a: str, b: str, most: int) -> int:
    """Letters changed, left out, put in, or two neighbours exchanged (Damerau 1964); more than ``most`` counts as most + 1."""
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        now = [i]
        for j, y in enumerate(b, 1):
            cost = min(row[j] + 1, now[j - 1] + 1, row[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, before[j - 2] + 1)
            now.append(cost)
        if min(now) > most:
            return most + 1
        before, row = row, now
    return row[-1]
