"""Fit the liquid property tables of the cooling area from CoolProp and print them as a Python module.

Run after a change of CoolProp, output to src/longlens/systems/cooling/liquid_tables.py:
    python -m tools.make_liquid_tables
The fit spans what CoolProp spans (water 274 to 420 K, mixtures 253.15 to 373.15 K, 0 to 60 % glycol by mass);
the forms are low-order, so that they may be read on above 373 K, where CoolProp's mixtures end.
"""

from __future__ import annotations

import CoolProp
import numpy as np
from CoolProp.CoolProp import PropsSI

T_REF, T_SPAN = 333.15, 60.0
X_REF, X_SPAN = 0.3, 0.3
PRESSURE = 3.0e5
ORDERS = {"D": (3, 3), "C": (2, 3), "L": (3, 3), "V": (4, 4)}
FREEZING_MARGIN = 3.0


def basis(temperature: np.ndarray, fraction: np.ndarray, key: str) -> np.ndarray:
    """Columns of the fit: powers of a scaled temperature (viscosity: its inverse) times powers of x."""
    order_t, order_x = ORDERS[key]
    if key == "V":
        tau = 10.0 * (T_REF / temperature - 1.0)
    else:
        tau = (temperature - T_REF) / T_SPAN
    xi = (fraction - X_REF) / X_SPAN
    return np.stack([tau**i * xi**j for i in range(order_t + 1) for j in range(order_x + 1)], axis=-1)


def samples(fluid: str, key: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rows = []
    for x in np.linspace(0.0, 0.6, 25):
        name = f"INCOMP::{fluid}[{x:.6f}]"
        freezing = PropsSI("T_freeze", "T", 300.0, "P", PRESSURE, name) if x > 0 else 273.15
        for t in np.linspace(max(freezing + FREEZING_MARGIN, 253.15), 373.15, 61):
            rows.append((t, x, PropsSI(key, "T", t, "P", PRESSURE, name)))
    table = np.array(rows)
    return table[:, 0], table[:, 1], table[:, 2]


def fit(fluid: str, key: str) -> np.ndarray:
    temperature, fraction, value = samples(fluid, key)
    target = np.log(value) if key == "V" else value / np.mean(value)
    scale = 1.0 if key == "V" else float(np.mean(value))
    coefficients, *_ = np.linalg.lstsq(basis(temperature, fraction, key), target, rcond=None)
    order_t, order_x = ORDERS[key]
    return (coefficients * scale).reshape(order_t + 1, order_x + 1)


def fit_water(key: str, order: int) -> np.ndarray:
    temperature = np.linspace(274.15, 420.0, 120)
    value = np.array([PropsSI(key, "T", t, "P", 6.0e5, "Water") for t in temperature])
    tau = 10.0 * (T_REF / temperature - 1.0) if key == "V" else (temperature - T_REF) / T_SPAN
    columns = np.stack([tau**i for i in range(order + 1)], axis=-1)
    target = np.log(value) if key == "V" else value
    coefficients, *_ = np.linalg.lstsq(columns, target, rcond=None)
    return coefficients


def literal(array: np.ndarray) -> str:
    if array.ndim == 1:
        return "(" + ", ".join(f"{value:.9g}" for value in array) + ")"
    inner = ",\n        ".join(literal(row) for row in array)
    return f"(\n        {inner},\n    )"


def main() -> None:
    print('"""Property tables of coolants, fitted from CoolProp ' + CoolProp.__version__ + ".")
    print("\nMade by tools/make_liquid_tables.py; do not edit by hand. Rows: powers of the scaled temperature,")
    print('columns: powers of the scaled glycol mass fraction. Viscosity rows give its natural logarithm."""\n')
    print("from __future__ import annotations\n")
    print(f"T_REF, T_SPAN = {T_REF}, {T_SPAN}\nX_REF, X_SPAN = {X_REF}, {X_SPAN}\n")
    for title, fluid in (("ETHYLENE_GLYCOL", "MEG"), ("PROPYLENE_GLYCOL", "MPG")):
        print(f"{title}: dict[str, tuple[tuple[float, ...], ...]] = {{")
        for name, key in (
            ("density", "D"),
            ("heat_capacity", "C"),
            ("conductivity", "L"),
            ("log_viscosity", "V"),
        ):
            print(f'    "{name}": {literal(fit(fluid, key))},')
        print("}\n")
    print("WATER: dict[str, tuple[float, ...]] = {")
    for name, key, order in (
        ("density", "D", 4),
        ("heat_capacity", "C", 4),
        ("conductivity", "L", 4),
        ("log_viscosity", "V", 5),
    ):
        print(f'    "{name}": {literal(fit_water(key, order))},')
    print("}")


if __name__ == "__main__":
    main()
