"""Remarks and singing: in every JSON report, in words only when somebody asks; never a fault."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from listener.cli import main
from listener.judging.singing import chorale

#: A drill whose planned route moves in fifths: spread triads in root position, step by step.
PARALLELS = """\
title = "Parallels"
about = "For the tests."
key = "C major"
tempo = 60
{more}

[[passage]]
name = "up"
chords = "C | Dm | Em | F"
kind = "spread"
inversion = 0
"""


@pytest.fixture
def drill(tmp_path: Path) -> Path:
    """The drill without a word about remarks."""
    path = tmp_path / "parallels.toml"
    path.write_text(PARALLELS.format(more=""), encoding="utf-8")
    return path


def said(capsys: pytest.CaptureFixture[str], *words: str, store: Path) -> str:
    assert main([*words, "--fast", "--plain", "--seed", "1", "--store", str(store)]) == 0
    return capsys.readouterr().out


def test_in_words_only_when_asked(tmp_path: Path, drill: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the option or by the drill; the grades are the same with and without."""
    without = said(capsys, "demo", str(drill), store=tmp_path / "a")
    assert "Remarks" not in without
    asked = said(capsys, "demo", str(drill), "--remarks", store=tmp_path / "b")
    assert "Remarks, no faults: parallel fifths (" in asked
    drill.write_text(PARALLELS.format(more="remarks = true"), encoding="utf-8")
    assert said(capsys, "demo", str(drill), store=tmp_path / "c") == asked
    assert [line for line in asked.splitlines() if not line.startswith("Remarks")] == without.splitlines()


def test_as_faults_they_are_not_called_none(tmp_path: Path, drill: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drill that counts them as faults says what there was without "no faults", also when the option asks for less;
    fifths that the plan has are no faults, so the grades stay."""
    plain = said(capsys, "demo", str(drill), "--remarks", store=tmp_path / "a")
    drill.write_text(PARALLELS.format(more='strictness = "same chord"\nremarks = "faults"'), encoding="utf-8")
    as_faults = said(capsys, "demo", str(drill), store=tmp_path / "b")
    assert "Remarks: parallel fifths (" in as_faults
    assert said(capsys, "demo", str(drill), "--remarks", store=tmp_path / "c") == as_faults
    assert as_faults.count("near") == plain.count("near")


def test_as_faults_they_are_heard_in_a_take(tmp_path: Path, drill: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fifths in a recorded take, against a drill whose own route has none of that kind: near, and named at the end."""
    take = tmp_path / "take.mid"
    simulate = ["hear", "--simulate", "--drill", str(drill), "--seed", "3", "--pickup-errors", "none"]
    assert main([*simulate, "--out", str(take), "--json"]) == 0
    asked = PARALLELS.format(more='strictness = "same chord"\nremarks = "faults"').replace("spread", "close")
    drill.write_text(asked, encoding="utf-8")
    capsys.readouterr()
    assert main(["hear", str(take), "--drill", str(drill)]) == 0
    heard = capsys.readouterr().out
    assert "1 hit, 3 nears, 0 misses, of 4 chords." in heard
    assert "Most often: parallel fifths (3 times), for instance at step 2 (Dm)." in heard
    assert "Try next: keep a common tone on the way to Dm, or let one voice move against the other." in heard


def test_in_every_report(tmp_path: Path, drill: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The document of demo and of hear has the remarks with their steps, and each voice beside the chorales'."""
    take = tmp_path / "take.mid"
    simulate = ["hear", "--simulate", "--drill", str(drill), "--seed", "1", "--pickup-errors", "none"]
    assert main([*simulate, "--out", str(take), "--json"]) == 0
    simulated = json.loads(capsys.readouterr().out)
    assert main(["hear", str(take), "--drill", str(drill), "--json"]) == 0
    heard = json.loads(capsys.readouterr().out)
    assert {"parallel_fifths"} <= {remark["code"] for remark in heard["remarks"]}
    assert all(0 < remark["step"] < 4 for remark in heard["remarks"] if remark["code"] == "parallel_fifths")
    top, bottom = heard["singing"]["voices"][:2]
    assert (top["voice"], bottom["voice"]) == ("top", "bottom")
    assert top["chorales"]["shares"]["step"] == round(chorale("soprano").step, 3)
    assert (simulated["remarks"], simulated["singing"]) == (heard["remarks"], heard["singing"])


def test_hear_without_a_drill_suggests_when_asked(
    tmp_path: Path, drill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As free listening does: the same chord with less movement, and where it lies; only with --remarks."""
    take = tmp_path / "take.mid"
    assert main(["hear", "--simulate", "--drill", str(drill), "--seed", "1", "--out", str(take)]) == 0
    capsys.readouterr()
    assert main(["hear", str(take)]) == 0
    assert "smoother" not in capsys.readouterr().out
    assert main(["hear", str(take), "--remarks"]) == 0
    assert "smoother: " in capsys.readouterr().out
    assert main(["hear", str(take), "--remarks", "--json"]) == 0
    strokes = json.loads(capsys.readouterr().out)["strokes"]
    better = [stroke for stroke in strokes if stroke["smoother"]]
    assert better
    for stroke in better:
        assert stroke["smoother"]["movement"]["cost"] < stroke["movement"]["cost"]
