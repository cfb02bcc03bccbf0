"""`make bench`: ratios measured side by side in one run. A timing here is never a test.

python -m tools.bench [NAME …]
"""

from __future__ import annotations

import importlib
import pkgutil
import sys
import textwrap
import time

import tools.bench


def main() -> None:
    """Print the ``rows()`` of every bench module, or of those named: dicts of ``what``, ``value``, ``unit``."""
    every = sorted(m.name for m in pkgutil.iter_modules(tools.bench.__path__) if not m.name.startswith("_"))
    names = sys.argv[1:] or every
    if unknown := [n for n in names if n not in every]:
        raise SystemExit(f"no bench named {', '.join(unknown)}; there are {', '.join(every)}")
    for name in names:
        module = importlib.import_module(f"tools.bench.{name}")
        title = (module.__doc__ or name).strip().splitlines()[0]
        print("\n" + textwrap.fill(f"{name}: {title}", 120), flush=True)
        began = time.perf_counter()
        for row in module.rows():
            print(f"  {row['what']:106s} {row['value']:>11.4g} {row['unit']}", flush=True)
        print(f"  ({time.perf_counter() - began:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
