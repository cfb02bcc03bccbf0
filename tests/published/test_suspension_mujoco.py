"""Positions against MuJoCo, a general physics engine: the same linkage as bodies with loop constraints, settled
without load.

Upright: three slides and a ball at the wheel centre; wishbones hinged to the world; rods on ball joints; a strut's
top on a ball with its tube sliding; a pushrod on a rocker. Every outer end is closed by an equality ``connect`` (a
strut's tube by ``weld``); the height of the wheel centre is set by a joint equality. No gravity, so that MuJoCo's
soft constraints, which yield only under load, come to rest with no error left. The wheel is moved in small steps, and
after each the model is stepped until its speeds have died.
"""

from __future__ import annotations

import mujoco
import numpy as np
import pytest

from longlens.systems.suspension.corner import LINKS, Corner
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import random_corner

pytestmark = pytest.mark.published

TRAVEL = (-0.05, -0.025, 0.025, 0.05)
HEAD = """<mujoco><option timestep="0.001" gravity="0 0 0" integrator="implicitfast" solver="Newton" tolerance="1e-14"
 iterations="50"><flag contact="disable"/></option>
<default><joint damping="0.2" armature="1e-4"/><equality solref="0.004 1" solimp="0.999 0.9999
0.001"/></default><worldbody>"""


def _xyz(p: np.ndarray) -> str:
    return " ".join(f"{x:.17g}" for x in p)


def _body(name: str, at: np.ndarray, joint: str, inside: str = "") -> str:
    inertia = '<inertial pos="0 0 0" mass="1" diaginertia="0.01 0.01 0.01"/>'
    return f'<body name="{name}" pos="{_xyz(at)}">{joint}{inertia}{inside}</body>\n'


def model_of(c: Corner) -> mujoco.MjModel:
    p = c.points
    wheel = p["wheel.centre"]
    along = zip("xyz", ("1 0 0", "0 1 0", "0 0 1"), strict=True)
    slides = "".join(f'<joint name="s{k}" type="slide" axis="{a}"/>' for k, a in along)
    parts = [_body("upright", wheel, slides + '<joint name="turn" type="ball"/>')]
    closings = []

    def close(a: str, outer: np.ndarray, origin: np.ndarray, b: str = "upright") -> None:
        closings.append(f'<connect body1="{a}" body2="{b}" anchor="{_xyz(outer - origin)}"/>')

    done = set()
    for name, inner, outer in LINKS[c.layout]:
        part = name.partition(".")[0]
        if part.endswith("_wishbone"):
            if part not in done:
                done.add(part)
                front = p[f"{part}.front_inner"]
                axis = p[f"{part}.rear_inner"] - front
                parts.append(_body(part, front, f'<joint name="{part}" type="hinge" axis="{_xyz(axis)}"/>'))
                close(part, p[outer], front)
        else:
            parts.append(_body(part, p[inner], f'<joint name="{part}" type="ball"/>'))
            close(part, p[outer], p[inner])
    if c.layout == "strut":
        top = p["strut.top"]
        slide = f'<joint name="slide" type="slide" axis="{_xyz(top - p["strut.lower"])}"/>'
        ball = '<joint name="top" type="ball"/>'
        parts.append(_body("strut", top, ball, _body("tube", p["strut.lower"] - top, slide)))
        closings.append('<weld body1="tube" body2="upright"/>')
    if c.has_rocker:
        pivot, inner = p["rocker.pivot"], p["pushrod.inner"]
        axis = _xyz(p["rocker.axis"] - pivot)
        rod = _body("pushrod", inner - pivot, '<joint name="pushrod" type="ball"/>')
        parts.append(_body("rocker", pivot, f'<joint name="rocker" type="hinge" axis="{axis}"/>', rod))
        close("pushrod", p["pushrod.outer"], inner, "lower_wishbone")
    text = HEAD + "".join(parts) + "</worldbody><equality>" + "".join(closings)
    text += '<joint name="height" joint1="sz" polycoef="0 0 0 0 0"/></equality></mujoco>'
    return mujoco.MjModel.from_xml_string(text)


def settle(model: mujoco.MjModel, data: mujoco.MjData, height: float, steps: int = 10) -> None:
    k = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_EQUALITY, "height")
    now = model.eq_data[k, 0]
    for s in range(1, steps + 1):
        model.eq_data[k, 0] = now + (height - now) * s / steps
        mujoco.mj_step(model, data, 20)
    for _ in range(60):
        mujoco.mj_step(model, data, 50)
        data.qvel[:] *= 0.5
        if np.max(np.abs(data.qvel)) < 1e-9:
            break
    mujoco.mj_forward(model, data)


@pytest.mark.parametrize(
    ("layout", "rocker", "count"),
    [("double_wishbone", False, 50), ("five_link", False, 50), ("strut", False, 20), ("double_wishbone", True, 20)],
)
def test_settled_loops_agree(layout: str, rocker: bool, count: int) -> None:
    rng = np.random.default_rng(11)
    far, turned, checked = 0.0, 0.0, 0
    while checked < count:
        c = random_corner(rng, layout, rocker=rocker)
        m = solve(c, np.array(TRAVEL))
        if not m.reached.all():
            continue
        checked += 1
        model = model_of(c)
        upright = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, "upright")
        outer = [b for _, _, b in LINKS[layout]]
        for half in ((1, 0), (2, 3)):
            data = mujoco.MjData(model)
            model.eq_data[-1, 0] = 0.0
            for k in half:
                settle(model, data, TRAVEL[k])
                R = data.xmat[upright].reshape(3, 3)
                for name in [*outer, "wheel.centre"]:
                    place = data.xpos[upright] + R @ (c.points[name] - c.points["wheel.centre"])
                    far = max(far, float(np.linalg.norm(place - m.point(name)[k])))
                if rocker:
                    k_rocker = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, "rocker")
                    arm = c.points["spring.outer"] - c.points["rocker.pivot"]
                    place = data.xpos[k_rocker] + data.xmat[k_rocker].reshape(3, 3) @ arm
                    far = max(far, float(np.linalg.norm(place - m.point("spring.outer")[k])))
                turned = max(turned, float(np.linalg.norm(np.cross(m.spin[k], R @ c.spin))))
    print(f"{layout}: {far * 1e9:.3f} nm, {np.degrees(turned):.2e}°")
    assert far < 1e-6
    assert np.degrees(turned) < 1e-4
