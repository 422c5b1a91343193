"""Every example in a docstring does what it says."""

import doctest
from importlib import import_module

import pytest

from house_modules import modules


@pytest.mark.parametrize("name", list(modules()))
def test_examples_in_docstrings_hold(name: str) -> None:
    assert doctest.testmod(import_module(name)).failed == 0
