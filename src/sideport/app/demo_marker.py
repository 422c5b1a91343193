"""The mark of an invented unit: ``demo.json`` holds the digests of the plans that ``sideport demo`` made.

It marks plans, not a folder: a real plan written beside it is not in it.
"""

import hashlib
import json
from pathlib import Path

__all__ = ["demo_digests", "mark_demo", "mark_demo_plan"]

MARKER = "demo.json"
PLAN_FILE = "plan.json"


def digest_of(path: Path) -> str:
    """SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def marked(folder: Path) -> frozenset[str]:
    """The digests in the folder's marker; none when there is no readable one."""
    try:
        found = json.loads((folder / MARKER).read_text(encoding="utf-8"))["plans"]
        return frozenset(str(digest) for digest in found)
    except (OSError, ValueError, KeyError, TypeError):
        return frozenset()


def mark_demo(folder: Path) -> None:
    """Note that the plan which now lies in the folder is the invented unit's."""
    digests = sorted(marked(folder) | {digest_of(folder / PLAN_FILE)})
    (folder / MARKER).write_text(json.dumps({"plans": digests}, indent=1), encoding="utf-8")


def mark_demo_plan(folder: Path | None, digest: str, known: frozenset[str]) -> frozenset[str]:
    """Note a plan that somebody invented made in the demo itself; returns every invented plan's digest."""
    digests = known | {digest}
    if folder is not None and (folder / MARKER).is_file():
        written = sorted(marked(folder) | digests)
        (folder / MARKER).write_text(json.dumps({"plans": written}, indent=1), encoding="utf-8")
    return digests


def demo_digests(folder: Path | None) -> frozenset[str]:
    """The digests of invented plans, or none when the folder's plan is not one of them."""
    if folder is None or not (folder / PLAN_FILE).is_file():
        return frozenset()
    digests = marked(folder)
    return digests if digests and digest_of(folder / PLAN_FILE) in digests else frozenset()
