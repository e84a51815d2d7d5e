"""Chord symbols and qualities."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.chord import Chord, is_no_chord, parse_chord, parse_suffix
from listener.music.pitch import Tone, parse_tone
from listener.music.quality import compose, qualities, quality_named, symbol_of

ROOTS = st.sampled_from((*"CDEFGAB", "C#", "Db", "D#", "Eb", "F#", "Gb", "G#", "Ab", "A#", "Bb", "Cb"))
#: Pieces of suffixes, strung together at random; what cannot be read is refused and left out.
WORDS = (
    "m - maj Δ ^7 j7 dim ø aug + alt no3 no5 sus4 sus2 sus24 ( ) , / 2 6 7 9 11 13 6/9 b5 #5 b9 #9 #11 b13 #4 b6 #7 "
    "add9 add11 add13 add#4"
)
PIECES = st.lists(st.sampled_from(WORDS.split()), max_size=4).map("".join)


@pytest.mark.parametrize(
    ("text", "symbol", "degrees"),
    [
        ("C", "C", "1 3 5"),
        ("C-7", "Cm7", "1 b3 5 b7"),
        ("CΔ", "Cmaj7", "1 3 5 7"),
        ("Cø", "Cm7b5", "1 b3 b5 b7"),
        ("C°", "Cdim", "1 b3 b5"),
        ("C7#9", "C7#9", "1 3 5 b7 #9"),
        ("C6/9", "C6/9", "1 3 5 6 9"),
        ("Csus", "Csus4", "1 4 5"),
        ("C/E", "C/E", "1 3 5"),
        ("F#-7b5/E", "F#m7b5/E", "1 b3 b5 b7"),
        ("B♭maj7", "Bbmaj7", "1 3 5 7"),
        ("CmMaj7", "Cm(maj7)", "1 b3 5 7"),
        ("C-Δ9", "Cm(maj9)", "1 b3 5 7 9"),
        ("Cmadd9", "Cm(add9)", "1 b3 5 9"),
        ("Comit5", "C(no5)", "1 3"),
        ("C+5", "Caug", "1 3 #5"),
        ("C+7", "C7#5", "1 3 #5 b7"),
        ("C7M", "Cmaj7", "1 3 5 7"),
        ("C minor 7", "Cm7", "1 b3 5 b7"),
        ("Cdim9", "Cdim9", "1 b3 b5 bb7 9"),
        ("C13", "C13", "1 3 5 b7 9 11 13"),
        ("C13#11", "C13#11", "1 3 5 b7 9 #11 13"),
        ("C7alt", "C7alt", "1 3 b5 #5 b7 b9 #9"),
        ("C5", "C5", "1 5"),
        ("C6/9/E", "C6/9/E", "1 3 5 6 9"),
        ("C7b9#9", "C7b9#9", "1 3 5 b7 b9 #9"),
        ("AbGer65", "AbGer6", "1 3 5 #6"),
        ("C6(9)", "C6/9", "1 3 5 6 9"),
        ("C6maj7", "Cmaj7(add13)", "1 3 5 7 13"),
        ("C6(7)", "C7(add13)", "1 3 5 b7 13"),
        ("C2", "Cadd9", "1 3 5 9"),
        ("C^", "Cmaj7", "1 3 5 7"),
        ("Csus2sus4", "Csus4(add9)", "1 4 5 9"),
        ("Cmb6", "Cm(addb13)", "1 b3 5 b13"),
        ("Am7 / G", "Am7/G", "1 b3 5 b7"),
    ],
)
def test_symbols(text: str, symbol: str, degrees: str) -> None:
    """Symbols as musicians write them, with their tones (common practice)."""
    chord = parse_chord(text)
    assert chord.symbol == symbol
    assert chord.quality.degrees == tuple(degrees.split())
    assert str(chord) == text


@pytest.mark.parametrize(
    "writings",
    [
        ("C7b9b13", "C7(b9,b13)", "C7(b13,b9)", "C7♭9♭13", "C7-9-13"),
        ("C13b9", "C7(b9,13)", "C7b9(13)", "C13(b9)"),
        ("Cm7b5", "C-7b5", "Cø7", "Cø", "Cmin7(b5)", "Cmi7-5", "Chdim7"),
        ("Cmaj9", "CΔ9", "CM9", "Cma9", "CMaj9"),
        ("C7sus4", "C7sus", "Csus7"),
        ("C7b9sus4", "C7sus4b9", "C7sus(b9)"),
        ("Caug", "C+", "C+5", "C(#5)"),
        ("C6/9", "C69", "C6add9", "C6(9)", "C6,9", "C9/6"),
        ("Cm6/9", "Cm69", "Cm6(9)", "C-6/9"),
        ("Cmaj7", "CΔ", "C∆", "C△7", "C^7", "CMA7", "Cma7", "CMaj7", "CM7", "Cj7", "C7M"),
        ("Cm(maj7)", "CmM7", "CminMaj7", "C-∆", "C-^7", "CMI(MA7)", "Cm#7", "Cmj7"),
        ("Cm7", "CMI7", "CMin7", "CMIN7", "Cmi7", "C-7"),
        ("Cø7", "C∅", "Cm7b5"),
        ("C7alt", "Calt", "C7(alt)", "C7alt."),
        ("Cadd9", "C2", "Cadd2", "C(add9)", "Cadd 9"),
        ("C(no3)", "C(no3rd)", "C5", "Cno3"),
        ("C7b9#11", "C7(b9,#11)", "C7(b9/#11)", "C7b9/#11", "C7b9#4"),
        ("C(add#11)", "C(#11)", "Cadd♯11"),
    ],
)
def test_one_quality_however_written(writings: tuple[str, ...]) -> None:
    """The same tones are the same quality with the same symbol; only the writing differs."""
    chords = [parse_chord(text) for text in writings]
    assert set(chords) == {chords[0]}
    assert {chord.symbol for chord in chords} == {chords[0].symbol}


@given(ROOTS, PIECES, st.one_of(st.none(), ROOTS))
def test_symbols_are_stable(root: str, suffix: str, bass: str | None) -> None:
    """The symbol of what was read reads back as the same chord with the same symbol."""
    try:
        chord = parse_chord(f"{root}{suffix}" + (f"/{bass}" if bass else ""))
    except MusicError:
        return
    again = parse_chord(chord.symbol)
    assert again == chord
    assert again.symbol == chord.symbol


@given(ROOTS, st.sampled_from(qualities()))
def test_spelled_tones_sound_right(root: str, quality: object) -> None:
    """Every spelled tone has the pitch class of its degree, and all tones of a quality differ."""
    chord = Chord(parse_tone(root), quality)  # type: ignore[arg-type]
    for tone, interval in zip(chord.tones.values(), chord.quality.intervals, strict=True):
        assert (tone.pitch_class - chord.root.pitch_class - interval) % 12 == 0
    assert len(chord.pitch_classes) == len(chord.quality.degrees)


def test_table_policy() -> None:
    """Never-dropped and optional tones are tones of the chord, apart from each other, and the root always stays."""
    for quality in qualities():
        never, optional = set(quality.never), set(quality.optional)
        either = [degree for group in quality.either for degree in group]
        assert never | optional | set(either) <= set(quality.degrees), quality.name
        assert len(never) + len(optional) + len(either) == len(never | optional | set(either)), quality.name
        if len(quality.degrees) > 2:
            assert "1" in quality.required, quality.name
        thirds = {"3", "b3"} & set(quality.degrees)
        assert thirds <= never, quality.name
    assert len({quality.name for quality in qualities()}) == len(qualities())
    assert len({frozenset(quality.degrees) for quality in qualities()}) == len(qualities())


def test_table_symbols_are_those_of_the_rule() -> None:
    """Each symbol of the table reads back as its row, and the rule writes nearly all of them in the same way."""
    rule_differs = {"7alt", "It6", "Fr6", "Ger6", "add9", "add11", "7sus4", "13b9"}
    for quality in qualities():
        assert parse_suffix(quality.symbol) == quality
        if quality.symbol not in rule_differs and symbol_of(quality.degrees) is not None:
            assert parse_suffix(symbol_of(quality.degrees) or "") == quality


@pytest.mark.parametrize(
    ("degrees", "never", "optional"),
    [
        ("1 3 5 b7 b9 11", "3 b7 b9 11", "5"),
        ("1 b3 5 b7 b9 11", "b3 b7 b9 11", "5"),
        ("1 3 5 b7 9 b13", "3 b7 b13", "5 9"),
        ("1 3 5 b7 9 11 b13", "3 b7 b13", "5 11 9"),
        ("1 3 5 b9", "3 b9", "5"),
        ("1 3", "3", ""),
    ],
)
def test_policy_by_rule(degrees: str, never: str, optional: str) -> None:
    """Qualities outside the table keep third, seventh, altered tones and the top; fifth, then 11 and 9 may go."""
    quality = compose(degrees.split(), "x")
    assert quality.never == tuple(never.split())
    assert quality.optional == tuple(optional.split())


def test_slash_bass() -> None:
    """A slash bass counts among the pitch classes; a bass that is the root is none."""
    chord = parse_chord("C/D")
    assert chord.pitch_classes == {0, 2, 4, 7}
    assert chord.degree_of(62) is None
    assert chord.tone_of(62) == Tone("D")
    assert parse_chord("C/C").bass is None


def test_transposing_keeps_the_distance_of_the_bass() -> None:
    """G7/B on E flat is Eb7/G, and C/D on F sharp is F#/G#."""
    assert parse_chord("G7/B").transposed(parse_tone("Eb")).symbol == "Eb7/G"
    assert parse_chord("C/D").transposed(parse_tone("F#")).symbol == "F#/G#"


def test_no_chord() -> None:
    """N.C. is known, and is refused where a chord is needed."""
    for text in (" N.C. ", "NC", "N. C.", "n.c.", "nc"):
        assert is_no_chord(text)
    assert not is_no_chord("C")
    with pytest.raises(MusicError, match="nothing is played"):
        parse_chord("N.C.")


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("", 0),
        ("H7", 0),
        ("am7", 0),
        ("C7x", 2),
        ("Cm7b", 3),
        ("C/H", 1),
        ("C/", 1),
        ("C4", 1),
        ("C-5", 2),
        ("Fmaj7#", 5),
        ("Bb7,9?", 5),
        ("Cm7#9", 1),
        ("C7b5#11", 1),
        ("C(((((", 5),
        ("C7(b9", 2),
        ("C7b9)", 4),
        ("C7(b9]", 5),
    ],
)
def test_what_cannot_be_read_says_where(text: str, position: int) -> None:
    """An unreadable symbol is refused in one line with the place where reading stopped."""
    with pytest.raises(MusicError) as caught:
        parse_chord(text)
    assert caught.value.position == position
    assert "\n" not in str(caught.value)
    assert repr(text) in str(caught.value)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("H7", "write B7,"),
        ("Hm", "write Bm,"),
        ("am7", "write Am7"),
        ("ebmaj7", "write Ebmaj7"),
        ("x7", "such as Am7"),
        ("ham", "such as Am7"),
        ("C/H", "write B"),
        ("C/g", "write /G"),
        ("C/", "such as C/E"),
        ("C/9", "such as C/E"),
        ("C7/4", "such as C/E"),
        ("C7x", "such as Am7, Cmaj9, G7b9 or Dsus4"),
        ("Fis7", "such as Am7, Cmaj9, G7b9 or Dsus4"),
        ("C4", "such as Am7, Cmaj9, G7b9 or Dsus4"),
    ],
)
def test_what_cannot_be_read_says_what_to_try(text: str, advice: str) -> None:
    """German H and small letters are refused with the right writing, everything else with examples."""
    with pytest.raises(MusicError) as caught:
        parse_chord(text)
    assert advice in str(caught.value)
    assert "\n" not in str(caught.value)


def test_quality_by_name() -> None:
    """The table is read by name; an unknown name is a KeyError."""
    assert quality_named("minor seventh").symbol == "m7"
    with pytest.raises(KeyError):
        quality_named("no such")
