"""The examples in the docs and docstrings of the currency are true."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"


def test_the_page_on_numbers():
    found = doctest.testfile(str(DOCS / "numbers.md"), module_relative=False)
    assert found.attempted > 15 and found.failed == 0


@pytest.mark.parametrize("module", ["number", "display", "tyre"])
def test_docstrings(module):
    found = doctest.testmod(import_module(f"longlens.numbers.{module}"))
    assert found.attempted > 0 and found.failed == 0
