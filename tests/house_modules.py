"""The modules of the installed package that a person wrote."""

from collections.abc import Iterator
from pkgutil import walk_packages

import sideport

__all__ = ["modules"]


def modules() -> Iterator[str]:
    for found in walk_packages(sideport.__path__, "sideport."):
        if ".migrations." not in found.name and not found.name.endswith(("wsgi", "asgi", "manage")):
            yield found.name
