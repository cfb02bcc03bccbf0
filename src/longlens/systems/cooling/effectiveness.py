"""Effectiveness of heat exchangers: ε(NTU, C*) with NTU = UA/C_min and C* = C_min/C_max.

Sources: Kays and London, Compact Heat Exchangers; Incropera and DeWitt, table 11.3; the exact series for
crossflow with both streams unmixed is Mason's (1955) in Bessel form (Baclic 1978).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

Array = Any
_SMALL = 1e-9
NTU_LIMIT = 12.0
_NTU_SCALE = 1.5
_ORDERS = (12, 7)


def counterflow(ntu: Array, ratio: Array) -> Array:
    """Counterflow."""
    ratio = np.minimum(ratio, 1.0 - 1e-10)
    decay = np.exp(-ntu * (1.0 - ratio))
    return (1.0 - decay) / (1.0 - ratio * decay)


def parallel_flow(ntu: Array, ratio: Array) -> Array:
    """Parallel flow."""
    return (1.0 - np.exp(-ntu * (1.0 + ratio))) / (1.0 + ratio)


def crossflow_mixed_max(ntu: Array, ratio: Array) -> Array:
    """Crossflow, the stream of larger capacity mixed, the smaller unmixed."""
    ratio = np.maximum(ratio, _SMALL)
    return -np.expm1(ratio * np.expm1(-ntu)) / ratio


def crossflow_mixed_min(ntu: Array, ratio: Array) -> Array:
    """Crossflow, the stream of smaller capacity mixed, the larger unmixed."""
    ratio = np.maximum(ratio, _SMALL)
    return -np.expm1(np.expm1(-ratio * ntu) / ratio)


def crossflow_unmixed_usual(ntu: Array, ratio: Array) -> Array:
    """Crossflow, both unmixed: the usual closed form, up to 1.3 % above the exact value (Incropera 11.32)."""
    ratio = np.maximum(ratio, _SMALL)
    return -np.expm1(ntu**0.22 / ratio * np.expm1(-ratio * ntu**0.78))


def crossflow_unmixed_exact(ntu: Array, ratio: Array, terms: int = 80) -> Array:
    """Crossflow, both unmixed, by the exact series. Slow: for tables and tests.

    ε = 1 − e^{−(1+C*)N} [I₀(z) + √C* I₁(z) − (1−C*)/C* Σ_{n≥2} C*^{n/2} I_n(z)], z = 2 N √C*.
    """
    from scipy.special import ive

    ntu, ratio = np.broadcast_arrays(np.asarray(ntu, dtype=float), np.asarray(ratio, dtype=float))
    ratio = np.maximum(ratio, _SMALL)
    root = np.sqrt(ratio)
    argument = 2.0 * ntu * root
    order = np.arange(2, terms + 2).reshape((-1,) + (1,) * ntu.ndim)
    tail = np.sum(root**order * ive(order, argument), axis=0)
    bracket = ive(0, argument) + root * ive(1, argument) - (1.0 - ratio) / ratio * tail
    return 1.0 - np.exp(argument - (1.0 + ratio) * ntu) * bracket


@lru_cache(maxsize=1)
def _correction() -> np.ndarray:
    """Polynomial of ln(exact/usual) of −ln(1−ε) over u = N/(N + 1.5) and C*, made once per process."""
    nodes_u = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.003, 1.0, 60))) * NTU_LIMIT / (NTU_LIMIT + _NTU_SCALE)
    nodes_c = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, 31)))
    u, c = (grid.ravel() for grid in np.meshgrid(nodes_u, nodes_c, indexing="ij"))
    ntu = _NTU_SCALE * u / (1.0 - u)
    exact, usual = crossflow_unmixed_exact(ntu, c), crossflow_unmixed_usual(ntu, c)
    basis = np.stack([u**i * c**j for i in range(_ORDERS[0] + 1) for j in range(_ORDERS[1] + 1)], axis=-1)
    fitted, *_ = np.linalg.lstsq(basis, exact / usual, rcond=None)
    return fitted.reshape(_ORDERS[0] + 1, _ORDERS[1] + 1)


def crossflow_unmixed(ntu: Array, ratio: Array) -> Array:
    """Crossflow, both unmixed, within 1e-4 of the exact series for NTU up to 12 (held there above)."""
    ntu = np.minimum(ntu, NTU_LIMIT)
    table = _correction()
    u = ntu / (ntu + _NTU_SCALE)
    factor: Array = 0.0
    for row in table[::-1]:
        inner: Array = row[-1]
        for value in row[-2::-1]:
            inner = inner * ratio + value
        factor = factor * u + inner
    return crossflow_unmixed_usual(ntu, ratio) * factor


def shell_and_tube(ntu: Array, ratio: Array) -> Array:
    """One shell pass, two, four, … tube passes."""
    root = np.sqrt(1.0 + ratio * ratio)
    decay = np.exp(-ntu * root)
    return 2.0 / (1.0 + ratio + root * (1.0 + decay) / (1.0 - decay))


def counter_passes(effectiveness_of_one: Array, ratio: Array, passes: int) -> Array:
    """n like passes, each stream mixed between them, in overall counterflow (Kays and London)."""
    if passes == 1:
        return effectiveness_of_one
    ratio = np.minimum(ratio, 1.0 - 1e-7)
    power = ((1.0 - effectiveness_of_one * ratio) / (1.0 - effectiveness_of_one)) ** passes
    return (power - 1.0) / (power - ratio)


def parallel_passes(effectiveness_of_one: Array, ratio: Array, passes: int) -> Array:
    """n like passes, mixed between them, in overall parallel flow (Kays and London)."""
    if passes == 1:
        return effectiveness_of_one
    reach = 1.0 - effectiveness_of_one * (1.0 + ratio)
    return (1.0 - reach**passes) / (1.0 + ratio)
