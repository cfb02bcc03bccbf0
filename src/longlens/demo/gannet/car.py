"""The whole Gannet of a stage in a stance."""

from __future__ import annotations

from longlens.demo.gannet.body import add_body
from longlens.demo.gannet.cockpit import add_cockpit
from longlens.demo.gannet.cooling import add_cooling
from longlens.demo.gannet.engine import add_engine
from longlens.demo.gannet.stance import STANCES
from longlens.demo.gannet.suspension import add_front_links, add_rear_links, corners
from longlens.demo.gannet.tail import add_tail
from longlens.demo.gannet.trim import add_trim
from longlens.demo.gannet.tub import add_tub
from longlens.demo.gannet.wheels import add_wheels
from longlens.demo.ground import add_ground_points
from longlens.demo.mechanics import solve
from longlens.demo.model import Model


def build(stage: str = "shown", stance: str = "static") -> Model:
    """The whole car of a stage (``"test"`` or ``"shown"``) in a stance (a key of :data:`STANCES`)."""
    m = Model()
    st = STANCES[stance]
    m.ground = st.ground_plane()
    shown = stage == "shown"
    front, rear = corners(stage)
    fl, fr = solve(front, st.front, st.rack), solve(front, st.front, -st.rack)
    rl = solve(rear, st.rear)
    add_wheels(m, (fl, fr), rl, shown)
    add_front_links(m, front, fl, fr, shown)
    add_rear_links(m, rear, rl)
    add_tub(m)
    add_cockpit(m)
    add_cooling(m, shown)
    add_engine(m, shown)
    add_body(m, shown)
    add_tail(m, shown)
    add_trim(m)
    add_ground_points(m)
    return m
