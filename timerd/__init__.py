"""timerd: a hands-free exposure timer and print companion for the black-and-white darkroom."""

__version__ = "0.1.0"
