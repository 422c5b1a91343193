"""``sideport eye`` as a person or a script calls it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sideport.cli import app
from sideport.exchange import write_demo


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented unit's files."""
    place = tmp_path_factory.mktemp("unit") / "quill"
    write_demo(place)
    return place


def run(*options: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["eye", *options])
    return result.exit_code, result.stdout, result.stderr


def test_json_holds_belief_flags_and_forecast_of_both_eyes_with_each_placement_apart(folder: Path) -> None:
    code, out, _ = run(str(folder), "QI-116", "--json")
    answer = json.loads(out)
    assert code == 0
    assert [eye["side"] for eye in answer["eyes"]] == ["right", "left"]
    assert [eye["listed"] for eye in answer["eyes"]] == [False, True]
    for eye in answer["eyes"]:
        assert eye["belief"]["axial_length_mm"]["sd"] > 0
        assert all({"code", "message", "action", "source"} <= flag.keys() for flag in eye["flags"])
        for placement in ("bag", "sulcus", "chamber"):
            lenses = eye[placement]
            assert lenses
            assert {lens["placement"] for lens in lenses} == {placement}
            misses = [abs(lens["miss_d"]) for lens in lenses]
            assert misses == sorted(misses)
            for lens in lenses:
                assert lens["refraction_d"] - eye["target_d"] == pytest.approx(lens["miss_d"])
                assert 0 <= lens["sees_6_12"] <= lens["sees_6_18"] + 2e-3
                assert 0 <= lens["beyond_two"] <= 1 - lens["within_one"] + 1e-12
    assert "second person" in answer["caution"]


def test_the_same_eye_reads_well_without_json(folder: Path) -> None:
    code, out, _ = run(str(folder), "qi-116")
    assert code == 0
    for expected in (
        "RIGHT eye",
        "LEFT eye, to be operated on",
        "axial length",
        "BAG",
        "SULCUS",
        "CHAMBER",
        "before the cut 6/12",
        "after the cut",
    ):
        assert expected in out
    assert "second person" in out


def test_an_unknown_patient_is_told_how_identities_are_written_and_no_name(folder: Path) -> None:
    code, out, err = run(str(folder), "nobody", "--json")
    assert code == 2
    assert out == ""
    assert "QI-101" in err
    assert "Write it as the register does" in err
    assert "Sabitri" not in err


def test_a_folder_without_files_says_what_to_do(tmp_path: Path) -> None:
    code, out, err = run(str(tmp_path), "QI-101")
    assert code == 2
    assert out == ""
    assert err.strip()
