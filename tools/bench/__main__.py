"""`make bench`: ratios measured side by side in one run. A timing here is never a test."""

from __future__ import annotations

import importlib
import pkgutil
import sys

import tools.bench


def main() -> None:
    """Run every bench module's ``rows()`` (or ``main()``), or those named on the command line."""
    names = sys.argv[1:] or sorted(m.name for m in pkgutil.iter_modules(tools.bench.__path__) if m.name != "__main__")
    for name in names:
        module = importlib.import_module(f"tools.bench.{name}")
        print(f"\n== {name}")
        if hasattr(module, "rows"):
            for row in module.rows():
                print("  ", row if isinstance(row, str) else "  ".join(str(x) for x in row))
        else:
            module.main()


if __name__ == "__main__":
    main()
