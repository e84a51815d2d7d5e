"""``widehand plan`` from the outside: what is shown, where, and the JSON that others may rely on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from printed import document, run

DRILL = 'title = "T"\nkey = "C major"\n[[passage]]\nchords = "C | Am | F | G"\nkind = "spread"\n'


@pytest.fixture
def drill(tmp_path: Path) -> str:
    """A drill file of four chords."""
    path = tmp_path / "four.toml"
    path.write_text(DRILL, encoding="utf-8")
    return str(path)


def test_everything_is_shown(drill: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Shapes, tab, voices, movement and what it comes to, each under its heading; a line end at the end."""
    code, out, err = run(capsys, "plan", drill, "--compare")
    assert (code, err) == (0, "")
    headings = [
        " shapes ",
        " tab ",
        " voices, from the top ",
        " movement in semitones",
        " this plan beside other ways ",
    ]
    places = [out.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "everyday shapes" in out
    assert out.endswith("mm.\n")


def test_other_ways_are_only_shown_on_request(drill: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A plan is there to be played; what it is better than is for who asks."""
    code, out, err = run(capsys, "plan", drill)
    assert (code, err) == (0, "")
    assert "everyday shapes" not in out
    assert "least" not in out
    assert out.endswith("mm.\n")


def test_the_report_is_in_the_json(drill: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Beside the plan's own fields stands the report; alternatives only when somebody asked for them."""
    plan = document(capsys, "plan", drill)
    assert plan["report"]["plan"]["movement"] == plan["total_movement"]
    assert plan["report"]["least_possible"] <= plan["report"]["plan"]["cost"]
    assert "alternatives" not in plan


def test_alternatives_are_other_sounds(drill: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The plan is the same with and without them; every alternative differs in sound from it and from each other."""
    alone = document(capsys, "plan", drill)
    plan = document(capsys, "plan", drill, "--alternatives", "5")
    alternatives = plan.pop("alternatives")
    assert plan == alone
    assert len(alternatives) == 5
    sounds = [[step["pitches"] for step in route["steps"]] for route in (plan, *alternatives)]
    assert len({json.dumps(sound) for sound in sounds}) == 6
    for route in alternatives:
        assert [step["chord"] for step in route["steps"]] == ["C", "Am", "F", "G"]


def test_alternatives_stand_side_by_side(drill: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One column for each route, the plan's own first."""
    code, out, _ = run(capsys, "plan", drill, "--alternatives", "2")
    assert code == 0
    assert "2 other routes" in out
    assert any(line.split() == ["the", "plan", "route", "2", "route", "3"] for line in out.splitlines())


def test_too_few_alternatives_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where a drill leaves no choice, standard error says so; the plan is shown all the same."""
    path = tmp_path / "fixed.toml"
    fixed = 'kind = "close"\ninversion = 0\nstrings = [3, 2, 1]\nfrets = [0, 12]\n'
    path.write_text(f'title = "T"\nkey = "C major"\n[[passage]]\nchords = "C | F"\n{fixed}', encoding="utf-8")
    code, out, err = run(capsys, "plan", str(path), "--alternatives", "9")
    assert code == 0
    assert err == "widehand: no other route sounds different\n"
    assert " shapes " in out


def test_one_chord_has_nothing_to_compare(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drill of one chord is shown without movement and report."""
    path = tmp_path / "one.toml"
    path.write_text('title = "T"\nkey = "C major"\n[[passage]]\nchords = "C"\n', encoding="utf-8")
    code, out, _ = run(capsys, "plan", str(path))
    assert code == 0
    assert "movement" not in out
    assert "report" not in document(capsys, "plan", str(path))
