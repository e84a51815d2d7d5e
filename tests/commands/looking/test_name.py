"""``widehand name``."""

from __future__ import annotations

import json

import pytest

from listener.commands.looking.name import run
from listener.errors import MusicError, UsageError, WidehandError
from listener.music.note_words import parse_notes, wants_flats


@pytest.mark.parametrize(
    ("words", "notes"),
    [
        (["55", "64", "72"], (55, 64, 72)),
        (["G3,E4", "C5"], (55, 64, 72)),
        (["C5 E4 G3"], (55, 64, 72)),
        (["Bb3", "a#3,", "0"], (0, 58, 58)),
        (["B♭3"], (58,)),
    ],
)
def test_notes_are_read(words: list[str], notes: tuple[int, ...]) -> None:
    """Names with octave and MIDI numbers, in any order, one by one or joined by commas."""
    assert parse_notes(words) == notes


@pytest.mark.parametrize("word", ["H3", "C", "128", "-1", "60.5", "C99", "Cmaj7", "E4;G4", "--", "６０x"])
def test_bad_words_are_named(word: str) -> None:
    """The message of a bad note names that word, in one line."""
    with pytest.raises(MusicError) as caught:
        parse_notes(["60", word])
    assert f"'{word}'" in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("word", "said"), [("G", "'G' needs its octave"), ("Bb", "needs its octave"), ("H3", "is not")]
)
def test_a_name_without_its_octave_is_a_note(word: str, said: str) -> None:
    """Nobody tells a guitarist that G is not a note."""
    with pytest.raises(MusicError, match=said):
        parse_notes([word])


@pytest.mark.parametrize("words", [[], [""], [","]])
def test_no_notes_is_wrong_usage(words: list[str]) -> None:
    """Without any note the exit code is that of wrong usage."""
    with pytest.raises(UsageError) as caught:
        run(words, as_json=False)
    assert caught.value.exit_code == 2
    assert isinstance(caught.value, WidehandError)


def test_the_best_name_is_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    """55 64 72 is a C spread triad in second inversion."""
    assert run(["55", "64", "72"], as_json=False) == 0
    assert capsys.readouterr().out == "C spread triad, second inversion (5-3-1): G3 E4 C5, span 17 semitones\n"


@pytest.mark.parametrize(
    ("notes", "line"),
    [
        ("C3 Bb3 E4", "C7 shell voicing, root position (1-b7-3), without its 5: C3 Bb3 E4, span 16 semitones"),
        ("C3 G3", "C5 (root and fifth), root position (1-5): C3 G3, span 7 semitones"),
        ("40 47 52 56 59 64", "E triad with doubled tones, root position (1-5-1-3-5-1): "),
        ("D3 C4 F4 A4", "Dm7 drop 3 voicing, root position"),
        ("F#2 C4 E4 G4", "C/F# close triad, over F# (#4-1-3-5): "),
        ("Gb3 Bb3 Db4", "Gb close triad, root position (1-3-5): Gb3 Bb3 Db4"),
        ("F#3 A#3 C#4", "F# close triad, root position (1-3-5): F#3 A#3 C#4"),
        ("C4 E4", "no chord name fits C4 E4, span 4; "),
        ("Db4 Eb4", "no chord name fits Db4 Eb4, span 2; "),
    ],
)
def test_first_lines(notes: str, line: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Shells, fifths, doubled tones, slash chords, both spellings, and what has no name."""
    assert run(notes.split(), as_json=False) == 0
    assert capsys.readouterr().out.startswith(line)


def test_other_readings_follow(capsys: pytest.CaptureFixture[str]) -> None:
    """C6 over C is Am7 over C, too; the second reading stands below."""
    run(["C3", "E3", "G3", "A3"], as_json=False)
    first, second, *_ = capsys.readouterr().out.splitlines()
    assert first.startswith("C6 close voicing, root position")
    assert second.startswith("  also Am7 close voicing, first inversion")


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    """One document with pitches and names, best first; no name is an empty list."""
    run(["72", "55", "64"], as_json=True)
    document = json.loads(capsys.readouterr().out)
    assert document["pitches"] == [55, 64, 72]
    assert document["names"][0] == {
        "chord": "C",
        "kind": "spread",
        "inversion": 2,
        "degrees": ["5", "3", "1"],
        "span": 17,
        "names": ["G3", "E4", "C5"],
    }
    run(["60"], as_json=True)
    assert json.loads(capsys.readouterr().out) == {"format": "widehand name 1", "pitches": [60], "names": []}


def test_spelling_follows_the_player() -> None:
    """Only flats mean flats, only sharps sharps; both or neither leave it open."""
    assert wants_flats(["Bb3", "C4"]) is True
    assert wants_flats(["F#3,C4"]) is False
    assert wants_flats(["F#3", "Bb3"]) is None
    assert wants_flats(["60", "B3"]) is None
