"""The Gannet's dimensions, its tyres and its bodies as lofts."""

from __future__ import annotations

import numpy as np

from longlens.demo.panels import Loft
from longlens.demo.solids import Array, ramp
from longlens.demo.tyres import Tyre

WHEELBASE = 2.4472
HALF_FRONT, HALF_REAR = 0.78155, 0.7744
LOADED_FRONT, LOADED_REAR = 0.3072, 0.3258
CAMBER_FRONT, CAMBER_REAR = np.radians(1.9), np.radians(1.4)

FRONT_TYRE = Tyre(0.245, 35, 18, 8.5, grown=0.0014)
REAR_TYRE = Tyre(0.305, 30, 19, 11.0, grown=-0.0019)

TUB = Loft(
    x=[0.62, 0.30, -0.30, -0.50, -0.80, -1.30, -1.56],
    w=[0.235, 0.262, 0.290, 0.380, 0.505, 0.520, 0.500],
    z0=[0.10, 0.085, 0.075, 0.065, 0.055, 0.055, 0.06],
    z1=[0.36, 0.40, 0.47, 0.53, 0.555, 0.560, 0.60],
    n_up=[5, 5, 4.5, 4, 3.6, 3.6, 4],
    n_low=[5, 5, 5, 5, 6, 6, 6],
)
NOSE = Loft(
    x=[1.06, 0.98, 0.70, 0.40, 0.0, -0.34],
    w=[0.36, 0.44, 0.485, 0.470, 0.398, 0.370],
    z0=[0.150, 0.120, 0.108, 0.10, 0.10, 0.10],
    z1=[0.262, 0.322, 0.445, 0.512, 0.566, 0.590],
    n_up=[3, 3, 3.2, 3.2, 3, 3],
    n_low=[3, 4, 5, 6, 6, 6],
)
LID = Loft(
    x=[-1.34, -1.60, -2.00, -2.45, -2.80, -3.02],
    w=[0.560, 0.700, 0.905, 0.945, 0.930, 0.880],
    z0=[0.40, 0.44, 0.50, 0.52, 0.50, 0.50],
    z1=[0.905, 0.890, 0.820, 0.772, 0.765, 0.800],
    n_up=[2.1, 2.4, 3.4, 4.2, 4.6, 5],
    n_low=[6, 6, 6, 6, 6, 6],
)
POD = Loft(
    x=[-0.58, -0.80, -1.15, -1.55, -1.92],
    w=[0.150, 0.190, 0.205, 0.200, 0.160],
    z0=[0.10, 0.065, 0.055, 0.055, 0.075],
    z1=[0.470, 0.570, 0.615, 0.625, 0.560],
    n_up=[3.4, 3.2, 3.0, 3.0, 3.0],
    n_low=[5, 5, 6, 6, 5],
    y=[0.690, 0.712, 0.722, 0.722, 0.706],
)


def opening(x: Array) -> Array:
    """Half the angle of the tub's section that is open above driver and passenger."""
    return ramp(x, [-1.56, -1.45, -1.10, -0.72, -0.56, -0.46], [0.70, 0.82, 0.86, 0.74, 0.05, 0.0])


def skin_of(shown: bool) -> str:
    """The material of the body's skin."""
    return "paint_white" if shown else "camouflage"
