"""The currency: a quantity with a unit, joint draws, an interval, a kind and a trail."""
