"""The whole Fulmar of a stage in a stance."""

from __future__ import annotations

from longlens.demo.fulmar.cockpit import add_cockpit
from longlens.demo.fulmar.cooling import add_cooling
from longlens.demo.fulmar.drive import add_drive
from longlens.demo.fulmar.floor import add_floor
from longlens.demo.fulmar.front_wing import add_front_wing
from longlens.demo.fulmar.instruments import add_instruments
from longlens.demo.fulmar.nose import add_nose
from longlens.demo.fulmar.pods import add_pods
from longlens.demo.fulmar.rear_wing import add_rear_wing
from longlens.demo.fulmar.stance import STANCES
from longlens.demo.fulmar.suspension import add_front_links, add_rear_links, corners
from longlens.demo.fulmar.trestles import add_trestles
from longlens.demo.fulmar.trim import add_trim
from longlens.demo.fulmar.tub import add_tub
from longlens.demo.fulmar.wheels import add_wheels
from longlens.demo.ground import add_ground_points
from longlens.demo.mechanics import solve
from longlens.demo.model import Model


def build(stage: str = "shown", stance: str = "static") -> Model:
    """The whole car of a stage in a stance.

    Parameters
    ----------
    stage : ``"test"`` or ``"shown"``.
    stance : a key of :data:`STANCES`.
    """
    m = Model()
    st = STANCES[stance]
    m.ground = st.ground_plane()
    front, rear = corners(stage)
    shown = stage == "shown"
    fl, fr = solve(front, st.front, st.rack), solve(front, st.front, -st.rack)
    rl = solve(rear, st.rear)
    add_wheels(m, (fl, fr), rl, shown)
    add_front_links(m, front, fl, fr, shown)
    add_rear_links(m, rear, rl)
    add_nose(m, shown)
    add_tub(m, shown)
    add_cockpit(m)
    add_front_wing(m, shown)
    add_pods(m, shown)
    add_cooling(m, shown)
    add_drive(m, shown)
    add_rear_wing(m, shown)
    add_floor(m, shown)
    if not shown:
        add_instruments(m)
    add_trim(m)
    if st.trestles:
        add_trestles(m, st)
    add_ground_points(m)
    return m
