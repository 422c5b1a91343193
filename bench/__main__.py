"""Runs the benches named on the command line, or all the quick ones: ``python -m bench formula day``."""

import sys
from importlib import import_module

QUICK = ("formula", "day", "import", "forecast", "wound", "risk", "schedule")
LONG = ("belief", "blunder", "pages")
"""Benches that take minutes and write a table; run by name or with ``long``."""


def main(names: list[str]) -> int:
    """Runs each bench's ``run()``; an unknown name is said."""
    wanted = [name for asked in names or QUICK for name in (LONG if asked == "long" else (asked,))]
    unknown = [name for name in wanted if name not in QUICK + LONG]
    if unknown:
        print(
            f"There is no bench called {', '.join(unknown)}; there are {', '.join(QUICK + LONG)}, "
            "and long for the slow ones."
        )
        return 2
    for name in wanted:
        print(f"== {name}")
        import_module(f"bench.{name}_bench").run()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
