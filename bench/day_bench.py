"""A day of 60 eyes with 400 boxes, part by part."""

import tempfile
from pathlib import Path

from bench.big_day import big_day
from bench.timing import best_of
from sideport.day import plan_day
from sideport.exchange import write_plan
from sideport.knowledge import load_published
from sideport.present.sheets import day_pdf, eye_pdf

__all__ = ["run"]


def run() -> None:
    """Prints the seconds of each part and their sum."""
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
