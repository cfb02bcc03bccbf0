"""The Fulmar's dimensions, its tyres and its bodies as lofts."""

from __future__ import annotations

import numpy as np

from longlens.demo.panels import Loft
from longlens.demo.tyres import Tyre

WHEELBASE = 2.6236
HALF_FRONT, HALF_REAR = 0.7592, 0.7381
LOADED_FRONT, LOADED_REAR = 0.2845, 0.2972
CAMBER_FRONT, CAMBER_REAR = np.radians(1.6), np.radians(1.1)

FRONT_TYRE = Tyre(0.225, 45, 15, 8.0, grown=-0.0021)
REAR_TYRE = Tyre(0.285, 40, 15, 10.0, grown=0.0017)

TUB = Loft(
    x=[1.06, 0.98, 0.80, 0.48, 0.15, -0.30, -0.65, -1.10, -1.50, -1.80],
    w=[0.030, 0.075, 0.122, 0.176, 0.206, 0.232, 0.268, 0.298, 0.300, 0.290],
    z0=[0.235, 0.200, 0.176, 0.140, 0.104, 0.070, 0.046, 0.036, 0.036, 0.040],
    z1=[0.262, 0.292, 0.350, 0.455, 0.520, 0.572, 0.632, 0.640, 0.560, 0.480],
    n_up=[2.0, 2.2, 2.5, 2.8, 2.6, 2.5, 2.7, 3.2, 3.4, 4],
    n_low=[2.0, 2.2, 2.6, 3.2, 3.4, 3.8, 5, 6, 6, 6],
)
COVER = Loft(
    x=[-1.36, -1.50, -1.70, -2.05, -2.45, -2.80, -2.98],
    w=[0.165, 0.205, 0.240, 0.225, 0.180, 0.125, 0.085],
    z0=[0.40, 0.38, 0.36, 0.36, 0.38, 0.40, 0.42],
    z1=[0.905, 0.920, 0.890, 0.760, 0.640, 0.560, 0.525],
    n_up=[2.0, 1.9, 1.85, 1.9, 2.1, 2.4, 2.6],
    n_low=[5, 5, 5, 5, 5, 5, 5],
)
POD = Loft(
    x=[-0.72, -0.95, -1.25, -1.60, -1.95, -2.22],
    w=[0.196, 0.212, 0.214, 0.190, 0.120, 0.055],
    z0=[0.105, 0.056, 0.048, 0.048, 0.056, 0.070],
    z1=[0.455, 0.492, 0.492, 0.460, 0.372, 0.290],
    n_up=[4.2, 3.4, 3.0, 2.8, 2.5, 2.3],
    n_low=[4.5, 5, 5.5, 5, 4, 3],
    y=[0.508, 0.505, 0.492, 0.452, 0.372, 0.312],
)
#: Half the angle of the hatch over the front suspension, rad.
HATCH = 0.86


def upper_paint(shown: bool) -> str:
    """The material of what is painted light on the shown car."""
    return "paint_white" if shown else "camouflage"


def lower_paint(shown: bool) -> str:
    """The material of what is painted dark on the shown car."""
    return "paint_slate" if shown else "camouflage"
