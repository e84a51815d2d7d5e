"""The course as a whole: drills that stand in for others."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

import pytest

from listener.commands.drills import main
from listener.errors import DrillError, PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.drill_file import read_drill
from listener.planning.planner import plan_drill

HEAD = 'title = "t"\nkey = "C major"\n'


@pytest.mark.parametrize(
    ("value", "complaint"),
    [
        ("5", "line 3: 'instead' must be a text in quotes, not 5"),
        ('"wide"', "line 3: 'instead' is this drill itself; name one that asks less of the hand"),
        ('"one or two"', "line 3: 'instead' must be the name of one drill such as \"ferry-landing\", not 'one or two'"),
    ],
)
def test_what_stands_in_is_named_well(value: str, complaint: str) -> None:
    """The field ``instead`` holds the name of one other drill."""
    with pytest.raises(DrillError) as raised:
        read_drill(f'{HEAD}instead = {value}\n[[passage]]\nchords = "C"', "wide")
    assert str(raised.value) == f"wide: {complaint}"


@pytest.mark.parametrize(
    "lines",
    [
        'chords = "C"\nbottom = "E2"\ntop = "E4"\nfrets = [5, 9]',
        'chords = "C | G"\ntop = ["C4", "up"]\nbottom = ["C3", "up"]\nfrets = [1, 3]\nstrings = [5, 4, 2]',
    ],
)
def test_a_hand_that_cannot_is_told_what_to_play(lines: str) -> None:
    """Whether a step or a change has no way, the message ends with the drill that stands in."""
    text = f'{HEAD}instead = "ferry-landing"\n[[passage]]\nkind = "close"\n{lines}'
    with pytest.raises(PlanError, match=r"; ferry-landing is the drill to play instead$"):
        plan_drill(read_drill(text, "t"), make_instrument(), make_hand("small"))


def test_what_stands_in_is_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``widehand drills show`` says what to play where the hand does not reach."""
    path = tmp_path / "wide.toml"
    path.write_text(f'{HEAD}instead = "ferry-landing"\n[[passage]]\nchords = "C"', encoding="utf-8")
    assert main(Namespace(action="show", drill=str(path), json=False)) == 0
    assert "If your hand cannot reach it, play ferry-landing instead." in capsys.readouterr().out
