"""The list: nobody in two places, early first, infected last, look-alikes apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.day.order import Case, Phase, Placing, arrange
from sideport.errors import ImpossibleInputError
from sideport.lens.model import Placement
from sideport.optics.side import Side


def case(key: str, minutes: float = 10, operator: str = "A", supervisor: str | None = None, **other: object) -> Case:
    defaults = {"phase": Phase.ORDINARY, "side": Side.RIGHT, "lens": None}
    return Case(key=key, minutes=minutes, operator=operator, supervisor=supervisor, **{**defaults, **other})  # type: ignore[arg-type]


people = st.sampled_from(["A", "B", "C"])
days = st.lists(
    st.builds(
        Case,
        key=st.uuids().map(str),
        phase=st.sampled_from(Phase),
        minutes=st.floats(1, 60),
        operator=people,
        supervisor=st.sampled_from([None, "S"]),
        side=st.sampled_from(Side),
        lens=st.sampled_from([None, ("Rigid A", 21.0, Placement.BAG)]),
    ),
    max_size=12,
).map(tuple)


def overlap(one: Placing, other: Placing) -> bool:
    return one.starts_min < other.ends_min - 1e-9 and other.starts_min < one.ends_min - 1e-9


@given(days, st.integers(1, 4), st.floats(0, 20))
def test_no_table_or_person_is_used_twice_at_once(cases: tuple[Case, ...], tables: int, turnover: float) -> None:
    placed = arrange(cases, tables=tables, turnover_min=turnover)
    by_key = {one.key: one for one in cases}
    assert sorted(by_key) == sorted(placing.key for placing in placed)
    assert [placing.order for placing in placed] == list(range(1, len(cases) + 1))
    for position, one in enumerate(placed):
        for other in placed[position + 1 :]:
            mine, theirs = by_key[one.key], by_key[other.key]
            shared = {mine.operator, mine.supervisor} & {theirs.operator, theirs.supervisor} - {None}
            if shared:
                assert not overlap(one, other)
            if one.table == other.table:
                first, second = sorted((one, other), key=lambda placing: placing.starts_min)
                assert second.starts_min >= first.ends_min + turnover - 1e-9
                assert by_key[first.key].phase <= by_key[second.key].phase


@pytest.mark.parametrize(
    ("minutes", "turnover", "per_hour"), [(6.0, 4.0, 10.0), (9.0, 8.0, 60 / 9), (3.75, 3.5, 16.0), (4.0, 8.0, 10.0)]
)
def test_one_surgeon_on_two_tables_reaches_the_closed_form_pace(
    minutes: float, turnover: float, per_hour: float
) -> None:
    """Cycle time of one server on two alternating stations: the longer of the work and half of work plus turnover.

    16 an hour at 3.75 minutes a case is the published pace of a high-volume unit (593 patients, 3 surgeons).
    """
    placed = arrange(tuple(case(f"{number:03}", minutes) for number in range(101)), tables=2, turnover_min=turnover)
    pace = 100 / ((placed[-1].starts_min - placed[0].starts_min) / 60)
    assert pace == pytest.approx(per_hour, rel=0.02)


def test_the_day_does_not_end_on_the_long_case() -> None:
    placed = arrange((case("a"), case("long", 40), case("b")), tables=1, turnover_min=5)
    assert placed[0].key == "long"


def test_look_alike_neighbours_are_parted() -> None:
    lens = ("Rigid A", 21.0, Placement.BAG)
    cases = (
        case("1", lens=lens),
        case("2", lens=lens),
        case("3", lens=("Rigid A", 22.0, Placement.BAG), side=Side.LEFT),
    )
    order = [placing.key for placing in arrange(cases, tables=1, turnover_min=5)]
    assert order[1] == "3"


def test_a_day_without_tables_is_refused_with_what_to_do() -> None:
    with pytest.raises(ImpossibleInputError, match="write 1 or more"):
        arrange((case("a"),), tables=0, turnover_min=5)
