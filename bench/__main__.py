"""Prints the benchmark table."""

import tempfile
import time
import tracemalloc
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from bench.big_day import big_day
from sideport.day import plan_day
from sideport.exchange import read_folder, write_plan
from sideport.knowledge import load_published
from sideport.lens.formula import Biometry, FormulaConstants
from sideport.lens.registry import formula
from sideport.present.sheets import day_pdf, eye_pdf


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest of several runs [s]."""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def bare_arithmetic(length: np.ndarray, k: np.ndarray) -> np.ndarray:
    """The roots, powers and divisions that SRK/T cannot do without, and nothing else."""
    radius = 337.5 / k
    corrected = length * length
    height = np.sqrt(radius * radius - corrected)
    first = 1336.0 / (length - height)
    second = 1336.0 / k
    return first - 1336.0 / (second - height)


def bench_formula() -> None:
    """SRK/T over a million eyes against the bare arithmetic, and its memory."""
    eyes = 1_000_000
    generator = np.random.default_rng(1)
    length = generator.uniform(20, 28, eyes)
    k = generator.uniform(40, 48, eyes)
    srk_t = formula("srk-t")
    constants = FormulaConstants(main=118.4)
    with np.errstate(invalid="ignore"):
        bare = best_of(7, lambda: bare_arithmetic(length, k))
    ours = best_of(7, lambda: srk_t.power_d(Biometry(length, k), constants, -0.5))
    tracemalloc.start()
    srk_t.power_d(Biometry(length, k), constants, -0.5)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(
        f"SRK/T, {eyes:,} eyes      {ours * 1000:8.1f} ms   {ours / bare:5.2f} x the bare arithmetic (goal: at most 3)"
    )
    print(f"  peak memory               {peak / (8 * eyes):5.1f} arrays of that length (goal: under 10)")


def bench_day() -> None:
    """A day of 60 eyes with 400 boxes, part by part."""
    request = big_day(eyes=60, boxes=400)
    knowledge = load_published()
    parts = {"plan": best_of(3, lambda: plan_day(request, knowledge, seed=0, inputs_sha256="bench"))}
    plan = plan_day(request, knowledge, seed=0, inputs_sha256="bench")
    parts["day.pdf"] = best_of(2, lambda: day_pdf(plan))
    parts["eyes.pdf"] = best_of(2, lambda: eye_pdf(plan))
    with tempfile.TemporaryDirectory() as folder:
        parts["plan.json"] = best_of(2, lambda: write_plan(plan, Path(folder) / "plan.json"))
    for name, seconds in parts.items():
        print(f"  {name:24}{seconds:8.2f} s")
    print(f"60 eyes, 400 boxes          {sum(parts.values()):8.2f} s   (goal: under 5)")


def bench_import() -> None:
    """A register of 100,000 rows."""
    rows = 100_000
    with tempfile.TemporaryDirectory() as folder:
        start = date(2026, 12, 1)
        lines = ["patient id,name,age,sex,eye,AL (mm),K1 (D),K2 (D)"]
        lines += [
            f"P{number},Person {number},{50 + number % 40},F,{'RL'[number % 2]},23.{number % 100:02},44.0,44.5"
            for number in range(rows)
        ]
        Path(folder, "register.csv").write_text("\n".join(lines), encoding="utf-8")
        Path(folder, "day.csv").write_text(
            f"setting,value\nunit,Bench\nday,{start + timedelta(days=1)}\n", encoding="utf-8"
        )
        seconds = best_of(1, lambda: read_folder(Path(folder)))
    print(f"register of {rows:,} rows   {seconds:8.2f} s")


if __name__ == "__main__":
    bench_formula()
    bench_day()
    bench_import()
