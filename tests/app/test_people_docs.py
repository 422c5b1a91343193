"""The page of the documentation that says who may do what is what the program does."""

from pathlib import Path

import pytest

from sideport.app.people.doors import access_page

PAGE = Path(__file__).parents[2] / "docs/reference/access.md"


@pytest.mark.skipif(not PAGE.is_file(), reason="the documentation is not part of an installation")
def test_the_table_of_the_documentation_is_true() -> None:
    assert PAGE.read_text(encoding="utf-8") == access_page(), (
        "Write it anew: python -m sideport.app.people.doors docs/reference/access.md"
    )
