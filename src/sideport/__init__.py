"""Sideport: plans a cataract operating day, follows every eye to its result, and learns from it."""

from importlib.metadata import version

__all__ = ["__version__"]

__version__ = version("sideport")
