"""The physics of each part of a car: pure functions, and one sheet per area."""
