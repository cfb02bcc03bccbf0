"""Pixels to space: camera, circles, mirror, starting values, adjustment, draws."""
