"""longlens: from marks on published photographs of a car to millimetres with honest intervals."""

__version__ = "0.1.0"
