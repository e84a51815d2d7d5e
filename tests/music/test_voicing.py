"""Voicings: built, recognised, refused."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.chord import Chord, parse_chord
from listener.music.pitch import parse_tone
from listener.music.quality import Quality, qualities
from listener.music.voicing import (
    ANY,
    CLOSE,
    DROP_2,
    DROP_2_4,
    DROP_3,
    FULL,
    OTHER,
    SHELL,
    SPREAD,
    bass_degree,
    kinds_of,
    tone_sets,
    voicing_of,
    voicings,
)

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
ROOTS = st.sampled_from(NAMES)
QUALITIES = st.sampled_from(qualities())


@given(ROOTS, QUALITIES, st.sampled_from([CLOSE, SPREAD, SHELL, DROP_2, DROP_3, DROP_2_4]))
def test_every_built_voicing_is_recognised(root: str, quality: Quality, kind: str) -> None:
    """What is built as a kind is recognised as it, has the chord's tones and lies in range."""
    chord = Chord(parse_tone(root), quality)
    for notes in voicings(chord, kind, low=43, high=72):
        voicing = voicing_of(chord, notes)
        # Root, third and seventh alone are called a shell first, however they are spaced.
        assert kind in kinds_of(chord, notes)
        assert voicing.kind == kind or (kind in (CLOSE, SPREAD) and voicing.kind == SHELL)
        assert 43 <= notes[0] <= notes[-1] <= 72
        # A shell is root, third and seventh even of a half-diminished chord, whose fifth is left to be understood.
        assert kind == SHELL or set(quality.never) <= set(voicing.degrees)
        assert [pitch.midi % 12 for pitch in voicing.pitches] == [note % 12 for note in notes]
        assert voicing.midi == notes


@given(ROOTS, QUALITIES, st.sampled_from([CLOSE, SPREAD, DROP_2, DROP_3, DROP_2_4]), st.integers(-12, 12))
def test_kinds_do_not_depend_on_the_key(root: str, quality: Quality, kind: str, semitones: int) -> None:
    """Transposing a chord and its notes leaves kind, degrees and inversion as they were."""
    chord = Chord(parse_tone(root), quality)
    built = voicings(chord, kind, low=48, high=67)
    assume(built)
    moved_root = next(
        parse_tone(name)
        for name in NAMES
        if (parse_tone(name).pitch_class - chord.root.pitch_class - semitones) % 12 == 0
    )
    other = Chord(moved_root, quality)
    for notes in built:
        before = voicing_of(chord, notes)
        after = voicing_of(other, [note + semitones for note in notes])
        assert (after.kind, after.degrees, after.inversion) == (before.kind, before.degrees, before.inversion)


@pytest.mark.parametrize(
    ("symbol", "notes", "kind", "inversion"),
    [
        ("C", (48, 55, 64), SPREAD, 0),
        ("C", (52, 60, 67), SPREAD, 1),
        ("C", (55, 64, 72), SPREAD, 2),
        ("C", (60, 64, 67), CLOSE, 0),
        ("C", (48, 64, 67), OTHER, 0),
        ("C", (48, 55, 60, 64, 67, 72), FULL, 0),
        ("C", (48, 60, 67), OTHER, 0),
        ("C", (48, 52, 60, 64), OTHER, 0),
        ("C7", (52, 58, 64, 70), OTHER, 1),
        ("Cmaj7", (55, 60, 64, 71), DROP_2, 2),
        ("Cmaj7", (52, 60, 67, 71), DROP_3, 1),
        ("Cmaj7", (48, 55, 64, 71), DROP_2_4, 0),
        ("C7", (48, 58, 64), SHELL, 0),
        ("C/D", (50, 60, 64, 67), CLOSE, None),
        ("C/D", (38, 48, 55, 64), SPREAD, None),
    ],
)
def test_kinds(symbol: str, notes: tuple[int, ...], kind: str, inversion: int | None) -> None:
    """Spacings by name: spread triads span 16, 15 and 17 semitones in C; a foreign bass is left out of account. Doubled
    tones make a full shape only of the whole chord: not without a triad's fifth, nor without a seventh chord's root."""
    voicing = voicing_of(parse_chord(symbol), notes)
    assert (voicing.kind, voicing.inversion) == (kind, inversion)


@given(ROOTS, QUALITIES)
def test_tone_sets_keep_what_must_stay(root: str, quality: Quality) -> None:
    """Every set of tones that may stand for a chord has the never-dropped and the required ones, fullest first."""
    sets = list(tone_sets(Chord(parse_tone(root), quality)))
    one_of = [degree for group in quality.either for degree in group]
    assert {degree for tones in sets for degree in tones} == set(quality.degrees) - set(quality.avoided)
    assert set(sets[0]) >= set(quality.degrees) - set(quality.avoided) - set(one_of)
    assert [len(tones) for tones in sets] == sorted((len(tones) for tones in sets), reverse=True)
    assert len(set(sets)) == len(sets)
    for tones in sets:
        assert set(quality.never) | set(quality.required) <= set(tones)


def test_an_altered_dominant_is_altered() -> None:
    """G7alt has root, third and seventh with one altered fifth and one altered ninth, or with one of the four alone
    where there are only four notes; it never has a natural fifth or ninth (common practice)."""
    sets = list(tone_sets(parse_chord("G7alt")))
    assert set(sets) == {
        *(("1", "3", fifth, "b7", ninth) for fifth in ("b5", "#5") for ninth in ("b9", "#9")),
        *(("1", "3", fifth, "b7") for fifth in ("b5", "#5")),
        *(("1", "3", "b7", ninth) for ninth in ("b9", "#9")),
    }
    assert sets[0] == ("1", "3", "#5", "b7", "#9")
    assert list(tone_sets(parse_chord("G7alt"), 3)) == []
    assert ("3", "#5", "b7", "b9") in set(tone_sets(parse_chord("Galt"), 4, ["1"]))
    assert {len(tones) for tones in tone_sets(parse_chord("G7alt"), without=["b5", "#5"])} == {4}
    with pytest.raises(MusicError, match="another chord"):
        list(tone_sets(parse_chord("G7alt"), without=["b5", "#5", "b9", "#9"]))


@pytest.mark.parametrize("symbol", ["C13", "C13b9", "C13#9", "Cmaj13", "C13#5", "C11(13)"])
def test_thirteenths_leave_the_eleventh_out(symbol: str) -> None:
    """A natural eleventh over a major third is an avoid note in thirteenths (common practice)."""
    assert all("11" not in tones for tones in tone_sets(parse_chord(symbol)))


@pytest.mark.parametrize("symbol", ["C11", "Cmaj11", "Cm13", "C7add11", "C11b13"])
def test_an_eleventh_asked_for_stays(symbol: str) -> None:
    """Chords named after their eleventh have it; over a minor third it clashes with nothing."""
    assert "11" in next(tone_sets(parse_chord(symbol)))


def test_leaving_the_root_to_the_bass_player() -> None:
    """Without its root a thirteenth still keeps third, seventh and thirteenth; without its third it is refused."""
    chord = parse_chord("C13")
    assert list(tone_sets(chord, 3, ["1"])) == [("3", "b7", "13")]
    with pytest.raises(MusicError, match="another chord"):
        list(tone_sets(chord, without=["3"]))


def test_the_inversion_fixes_the_top_of_a_spread_triad() -> None:
    """Root position is 1-5-3, first inversion 3-1-5, second 5-3-1."""
    chord = parse_chord("Eb")
    found = {
        voicing_of(chord, notes).inversion: voicing_of(chord, notes).degrees
        for notes in voicings(chord, SPREAD, low=40, high=76)
    }
    assert found == {0: ("1", "5", "3"), 1: ("3", "1", "5"), 2: ("5", "3", "1")}


def test_slash_basses() -> None:
    """A bass that is a chord tone fixes the inversion; a foreign one stands below the voicing."""
    assert {notes[0] % 12 for notes in voicings(parse_chord("C/E"), SPREAD, low=40, high=76)} == {4}
    over_d = voicings(parse_chord("C/D"), CLOSE, low=40, high=70)
    assert over_d
    assert {notes[0] % 12 for notes in over_d} == {2}
    assert {len(notes) for notes in over_d} == {4}
    assert bass_degree(parse_chord("C/D")) == "2"
    assert bass_degree(parse_chord("C/Bb")) == "b7"


@pytest.mark.parametrize("kind", [FULL, "wide", ""])
def test_kinds_that_cannot_be_built(kind: str) -> None:
    """Full shapes need a neck, and unknown kinds are refused."""
    with pytest.raises(MusicError, match="cannot be built"):
        voicings(parse_chord("C"), kind, low=40, high=76)


def test_notes_of_another_chord() -> None:
    """A note that is no tone of the chord, and no note at all, are refused."""
    with pytest.raises(MusicError, match="is not a tone of C"):
        voicing_of(parse_chord("C"), [60, 64, 66])
    with pytest.raises(MusicError, match="at least one"):
        voicing_of(parse_chord("C"), [])


def test_any_spacing_has_no_doubled_tone() -> None:
    """The wish *any* gives every spacing of the tones once, among them all close and spread ones."""
    chord = parse_chord("Am")
    found = set(voicings(chord, ANY, low=45, high=70))
    assert set(voicings(chord, CLOSE, low=45, high=70)) | set(voicings(chord, SPREAD, low=45, high=70)) <= found
    assert all(len({note % 12 for note in notes}) == 3 for notes in found)
