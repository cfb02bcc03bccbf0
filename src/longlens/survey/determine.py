"""What the marks can determine, by counting, before anything is solved; said in the user's words.

Counting is necessary, not sufficient: what passes here may still be weak, and the covariance says so afterwards.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from longlens.dossier.exchange import ExchangeDocument


@dataclass
class Determined:
    """Ids left out, each with the reason and what would help."""

    shots: dict[str, tuple[str, str]] = field(default_factory=dict)
    points: dict[str, tuple[str, str]] = field(default_factory=dict)
    circles: dict[str, tuple[str, str]] = field(default_factory=dict)


def count_out(doc: ExchangeDocument) -> Determined:
    """Leave out, again and again until nothing changes, points and circles with fewer observations than unknowns and
    shots with fewer marks than their pose needs."""
    out = Determined()
    body, body_dof = _bodies(doc)
    fitted = [m for m in doc.marks if not m.inferred]
    members: dict[str, list[str]] = defaultdict(list)
    for pid, b in body.items():
        members[b].append(pid)
    positioned = {body[f.position] for f in doc.facts if f.position is not None}
    tied: dict[str, set[str]] = defaultdict(set)
    for f in doc.facts:
        if f.distance is not None:
            a, b = body[f.distance[0]], body[f.distance[1]]
            if a != b:
                tied[a].add(b)
                tied[b].add(a)
    alike: dict[str, list[set[str]]] = defaultdict(list)
    for e in doc.equal_lengths:
        of = {body[p] for p in (*e.one, *e.other)}
        for b in of:
            alike[b].append(of - {b})
    softly = {}
    for p in doc.points:
        if p.mirror is not None and body[p.id] != body[p.mirror]:
            softly[body[p.id]], softly[body[p.mirror]] = body[p.mirror], body[p.id]
    known_radius = {c for f in doc.facts for c in f.diameter or ()}
    circles = {c.id: c for c in doc.circles}
    dead_shots: set[str] = set()
    dead: set[str] = set()
    dead_circles: set[str] = set()

    def ellipses(cid: str) -> list[int]:
        n: dict[str, int] = defaultdict(int)
        for m in fitted:
            if m.circle == cid and m.shot not in dead_shots:
                n[m.shot] += len(m.edge or ())
        return [min(v, 5) for v in n.values()]

    point_marks: dict[str, list[str]] = defaultdict(list)
    for m in fitted:
        if m.point is not None:
            point_marks[body[m.point]].append(m.shot)
    changed = True
    while changed:
        changed = False
        live = {b: [s for s in point_marks[b] if s not in dead_shots] for b in members}
        with_circle: dict[str, int] = defaultdict(int)
        for cid, c in circles.items():
            if cid in dead_circles:
                continue
            seen = sum(ellipses(cid))
            sized = cid in known_radius or len(ellipses(cid)) > 1
            known = 2 * (c.axis is not None) + sized
            centre_marks = 2 * len(live[body[c.centre]]) + 3 * (body[c.centre] in positioned) if c.centre else 0
            if not sized and centre_marks < 3:  # one ellipse alone: near and small looks like far and large
                seen = 0
            if seen == 0 or seen + known + min(centre_marks, 3) < 6:
                dead_circles.add(cid)
                changed = True
            elif c.centre is not None:
                with_circle[body[c.centre]] += min(seen, 3)
        for b, dof in body_dof.items():
            if b in dead:
                continue
            n = 2 * len(live[b]) + 3 * (b in positioned) + with_circle[b]
            n += sum(1 for o in tied[b] if o not in dead)
            # of lengths that equal others one is spent: a ray meets a length twice, the next says where
            n += max(len({frozenset(of) for of in alike[b] if not of & dead}) - 1, 0)
            if b in softly and softly[b] not in dead:
                n += min(3, 2 * len(live[softly[b]]) + 3 * (softly[b] in positioned))
            if n < dof:
                dead.add(b)
                changed = True
        for s in doc.shots:
            if s.id in dead_shots:
                continue
            points = {body[m.point] for m in fitted if m.shot == s.id and m.point and body[m.point] not in dead}
            n = 2 * sum(1 for m in fitted if m.shot == s.id and m.point is not None and body[m.point] in points) + sum(
                min(5, len(m.edge or ()))
                for m in fitted
                if m.shot == s.id and m.circle and m.circle not in dead_circles
            )
            if n < (6 if s.focal_px is not None else 7):
                dead_shots.add(s.id)
                changed = True
    for b in dead:
        for pid in members[b]:
            n = len([s for s in point_marks[b] if s not in dead_shots])
            out.points[pid] = _point_reason(pid, n)
    for cid in dead_circles:
        out.circles[cid] = (
            f"circle {cid} is seen on too few photographs, or by too few points of its edge",
            f"five points on the edge of {cid} on a second photograph, or its diameter",
        )
    for sid in dead_shots:
        out.shots[sid] = (
            f"shot {sid} has too few marks that other shots or facts share",
            f"two more marks on shot {sid}",
        )
    return out


def _bodies(doc: ExchangeDocument) -> tuple[dict[str, str], dict[str, int]]:
    """Which body each point is, and how many unknowns each body has."""
    body = {p.id: p.id for p in doc.points}
    on = {p.id: p.on for p in doc.points}
    table = {p.id: p for p in doc.points}
    for p in doc.points:
        if p.mirror is not None:
            twin = table[p.mirror]
            sd = max(p.mirror_sd, twin.mirror_sd if twin.mirror == p.id else 0.0)
            if sd == 0.0 and body[p.id] == p.id:
                body[p.mirror] = p.id
                on[p.id] = on[p.id] or on[p.mirror]
    dof = {b: 3 - (on[b] is not None) for b in set(body.values())}
    return body, dof


def _point_reason(pid: str, marks: int) -> tuple[str, str]:
    if marks == 0:
        return f"point {pid} is not marked on any usable photograph", f"marks of {pid} on two photographs"
    return (
        f"point {pid} is marked once only: its depth is open",
        f"a mark of {pid}, or of its twin across the car, on another photograph",
    )
