"""Reads the check values of ``tables/`` and runs each through the function it names."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from importlib.resources import files
from typing import Any

from ..errors import KnowledgeError
from ..knowledge import Basis, load_published

__all__ = ["Check", "CheckResult", "load_checks", "run_checks"]


@dataclass(frozen=True, slots=True)
class Check:
    """One printed value and the call that should reproduce it."""

    quantity: str
    call: str
    """``sideport.room.module:function``; the inputs go in as keywords."""
    inputs: Mapping[str, Any]
    printed: str
    """As the source prints it; half the last digit is the tolerance unless ``tolerance`` is wider and says ``why``."""
    source: str
    locator: str
    basis: Basis
    result: str = ""
    """Attribute of the returned record, where it has several."""
    tolerance: float | None = None
    why: str = ""

    @property
    def allowed(self) -> float:
        """Largest difference that still counts as agreement."""
        if self.tolerance is not None:
            return self.tolerance
        decimals = len(self.printed.partition(".")[2])
        return 0.5 * 10.0**-decimals * (1 + 1e-9)


@dataclass(frozen=True, slots=True)
class CheckResult:
    """A check with what the program computes."""

    check: Check
    computed: float

    @property
    def difference(self) -> float:
        """Computed minus printed."""
        return self.computed - float(self.check.printed)

    @property
    def agrees(self) -> bool:
        """Whether the difference is within what the printed digits allow."""
        return abs(self.difference) <= self.check.allowed


def load_checks() -> tuple[Check, ...]:
    """Every check in ``tables/*.toml``, in file order.

    Raises
    ------
    KnowledgeError
        When a check names an unknown source, a call outside Sideport, or a wider tolerance without saying why.
    """
    known = load_published().sources
    checks: list[Check] = []
    for path in sorted(files("sideport.checks").joinpath("tables").iterdir(), key=lambda entry: entry.name):
        if not path.name.endswith(".toml"):
            continue
        for entry in tomllib.loads(path.read_text(encoding="utf-8"))["check"]:
            check = Check(**{**entry, "basis": Basis(entry["basis"])})
            if check.source not in known:
                raise KnowledgeError(f"{path.name}: {check.quantity!r} names the unknown source {check.source!r}.")
            if not check.call.startswith("sideport."):
                raise KnowledgeError(f"{path.name}: {check.quantity!r} calls {check.call!r}, which is not Sideport's.")
            if check.tolerance is not None and not check.why:
                raise KnowledgeError(f"{path.name}: {check.quantity!r} widens its tolerance without saying why.")
            checks.append(check)
    return tuple(checks)


def run_checks() -> tuple[CheckResult, ...]:
    """Runs every check; the order is that of the tables."""
    return tuple(CheckResult(check, computed_value(check)) for check in load_checks())


def computed_value(check: Check) -> float:
    """What the program says to a check's inputs."""
    module, _, name = check.call.partition(":")
    outcome = getattr(import_module(module), name)(**check.inputs)
    return float(getattr(outcome, check.result) if check.result else outcome)
