"""The survey held against real photographs: `python -m tools.check_real` (or `make check-real`)."""
