"""The house keeps its own rules: small modules, documented signatures, sourced numbers."""

import ast
import inspect
import re
import subprocess
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

from house_modules import modules
from sideport.checks import load_checks, run_checks
from sideport.knowledge import Basis, load_published

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "src").rglob("*.py"))
PURE = ("optics", "knowledge", "eye", "lens", "wound", "risk", "shelf", "day")


WRITTEN = [path for path in SOURCES if "migrations" not in path.parts]
"""Modules that a person writes; migrations are generated."""


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: str(path.relative_to(ROOT / "src")))
def test_a_module_reads_in_one_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


@pytest.mark.parametrize("name", [name for name in modules() if name.split(".")[1] in PURE])
def test_documented_parameters_are_the_real_ones(name: str) -> None:
    module = import_module(name)
    for public in getattr(module, "__all__", []):
        function = getattr(module, public)
        if not inspect.isfunction(function) or function.__module__ != name:
            continue
        text = inspect.getdoc(function) or ""
        assert text, f"{name}.{public} has no docstring"
        section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", text, re.S | re.M)
        if section is None:
            continue
        documented = [
            item.strip().lstrip("*")
            for line in section.group(1).splitlines()
            if (match := re.match(r"(\S[^:]*?) ?(?::|$)", line)) and not line.startswith(" ")
            for item in match.group(1).split(",")
        ]
        assert documented == list(inspect.signature(function).parameters), f"{name}.{public}"


@pytest.mark.parametrize("name", list(modules()))
def test_public_names_are_declared_and_exist(name: str) -> None:
    module = import_module(name)
    path = Path(module.__file__ or "")
    defines = any(
        isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
    )
    if defines and ".app." not in name:
        assert hasattr(module, "__all__"), f"{name} does not say what is public"
    for public in getattr(module, "__all__", []):
        assert hasattr(module, public), f"{name}.__all__ names {public}, which does not exist"


def test_every_number_has_a_source_and_every_source_a_use() -> None:
    knowledge = load_published()
    used = {number.source for number in knowledge.numbers.values()} | {check.source for check in load_checks()}
    assert all(number.unit for number in knowledge.numbers.values())
    code = "\n".join(path.read_text(encoding="utf-8") for path in SOURCES)
    unused = {key for key in knowledge.sources if key not in used and f'"{key}"' not in code}
    assert not unused, f"sources.toml holds works that nothing stands on: {sorted(unused)}"


def test_common_practice_and_the_unit_are_never_called_published() -> None:
    for number in load_published().numbers.values():
        if number.source in {"practice", "unit"}:
            assert number.basis is not Basis.PUBLISHED, number.key


@pytest.mark.parametrize("result", run_checks(), ids=lambda result: f"{result.check.source}: {result.check.quantity}")
def test_published_value_is_reproduced(result: object) -> None:
    assert result.agrees, result  # type: ignore[attr-defined]


@pytest.mark.parametrize("room", PURE)
def test_pure_rooms_open_no_file_and_read_no_clock(room: str) -> None:
    for path in (ROOT / "src/sideport" / room).rglob("*.py"):
        if path.name == "load.py" and room == "knowledge":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
            banned = {"open", "datetime.now", "date.today", "time.time", "np.random.seed", "np.random.default_rng"}
            assert called not in banned, f"{path.name} line {node.lineno} calls {called}"  # type: ignore[attr-defined]


def test_lock_files_name_no_address() -> None:
    for lock in ROOT.glob("requirements*.lock"):
        assert "://" not in lock.read_text(encoding="utf-8")


def test_lock_holds_every_dependency() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    locked = set(re.findall(r"^([a-z0-9-]+)==", (ROOT / "requirements.lock").read_text(encoding="utf-8"), re.M))
    for requirement in project["dependencies"]:
        assert re.split(r"[<>=]", requirement)[0] in locked, requirement


def test_nothing_names_the_machine_it_was_made_on() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    for name in filter(None, listed):
        path = ROOT / name
        if path.suffix in {".py", ".toml", ".md", ".html", ".css", ".typ", ".js", ".csv"} and path.is_file():
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"/(?:home|root|tmp)/\w", text), name
