"""All playable fingerings of a wish, and the reason when there is none."""

from __future__ import annotations

from itertools import groupby, product

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_grip import plain_grip, plain_sensible_grips

from listener.drill.drill import NoteWish, Wish
from listener.errors import InstrumentError, MusicError
from listener.guitar.fingering import Fingering
from listener.guitar.grip import fingerings
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import Tone, parse_pitch
from listener.music.voicing import ANY, KINDS, kind_of, spacing_of, voicing_of
from listener.planning.shapes.candidates import Candidate, candidates, why_none

GUITAR, HAND = make_instrument(), make_hand()
ROOTS = ("C", "F#", "Bb", "E")
SUFFIXES = ("", "m", "7", "maj7", "m7b5", "sus4", "9")


def wish(chord: str, *kinds: str, **parts: object) -> Wish:
    return Wish(parse_chord(chord), kinds or ("spread",), **parts)  # type: ignore[arg-type]


def find(*args: str, **parts: object) -> tuple[Candidate, ...]:
    return candidates(wish(*args, **parts), GUITAR, HAND)


def top(text: str) -> NoteWish:
    """A pitch when it names an octave on a letter, otherwise a degree."""
    return NoteWish(pitch=parse_pitch(text)) if text[0].isupper() else NoteWish(degree=text)


@settings(max_examples=examples(60), deadline=None)
@given(
    root=st.sampled_from(ROOTS),
    suffix=st.sampled_from(SUFFIXES),
    kind=st.sampled_from((*KINDS, ANY)),
    degree=st.sampled_from([None, "1", "3", "5"]),
    inversion=st.sampled_from([None, 0, 1, 2]),
    frets=st.sampled_from([None, (0, 4), (5, 9)]),
    strings=st.sampled_from([None, (4, 3, 2, 1), (6, 4, 3, 2)]),
)
def test_every_candidate_fulfils_the_wish(
    root: str,
    suffix: str,
    kind: str,
    degree: str | None,
    inversion: int | None,
    frets: tuple[int, int] | None,
    strings: tuple[int, ...] | None,
) -> None:
    """Kind, lines, inversion, frets and strings are all kept, and voicing and fingering agree."""
    asked = wish(root + suffix, kind, top=NoteWish(degree=degree), inversion=inversion, frets=frets, strings=strings)
    for found in candidates(asked, GUITAR, HAND):
        voicing, fingering = found.voicing, found.fingering
        assert voicing.midi == fingering.pitches == tuple(map(GUITAR.pitch, fingering.strings, fingering.frets))
        assert voicing.kind == kind or kind == ANY
        assert degree is None or (voicing.midi[-1] - asked.chord.root.at(degree).pitch_class) % 12 == 0
        assert inversion is None or voicing.inversion == inversion
        assert strings is None or set(fingering.strings) <= set(strings)
        assert all(fret == 0 or (frets or (0, 15))[0] <= fret <= (frets or (0, 15))[1] for fret in fingering.frets)
        assert fingering.strain <= 1.0
        if kind == "shell":  # root, third and seventh by definition, whatever else the chord has
            assert set(voicing.degrees) <= {"1", "2", "3", "b3", "4", "6", "7", "b7", "bb7"}
            assert len(voicing.degrees) == 3
        else:
            assert set(asked.chord.quality.never) <= set(voicing.degrees)


def test_all_spread_triads_are_found() -> None:
    """Every spread C triad on the neck with every fingering: the definition tried note by note."""
    expected = set()
    for notes in product(*(range(40 + (tone - 40) % 12, 80, 12) for tone in (0, 4, 7))):
        if spacing_of(sorted(notes)) == "spread":
            expected.update((f.strings, f.frets) for f in fingerings(GUITAR, HAND, sorted(notes)))
    found = find("C", "spread")
    assert {(c.fingering.strings, c.fingering.frets) for c in found} == expected
    assert len(found) == len({c.fingering for c in found}) > len(expected)


@pytest.mark.parametrize("kind", ["close", "drop 2", "drop 3", "drop 2 & 4", "shell"])
def test_kinds_are_named_as_they_sound(kind: str) -> None:
    """What is found for a kind is also called that when it is heard."""
    chord = parse_chord("G7")
    found = find("G7", kind)
    assert found
    heard = {kind_of(chord, c.voicing.midi) for c in found if len(c.voicing.midi) == (3 if kind == "shell" else 4)}
    assert heard == {kind}


def test_several_kinds_at_once() -> None:
    """Two kinds give the fingerings of both, each once, though a shape may be of both kinds."""
    both = find("Am7", "drop 2", "drop 3")
    assert len(both) == len(find("Am7", "drop 2")) + len(find("Am7", "drop 3"))
    assert len({c.fingering for c in both}) == len(both)
    again = find("Am7", "shell", "any")
    assert len({c.fingering for c in again}) == len(again)
    assert {c.fingering for c in again} == {c.fingering for kind in ("shell", "any") for c in find("Am7", kind)}


def test_everyday_shapes() -> None:
    """The open shapes every beginner knows are among the full ones (common practice)."""
    shapes = {"C": "x32010", "G": "320003", "D": "xx0232", "Am": "x02210", "E": "022100", "F": "133211"}
    for chord, frets in shapes.items():
        expected = {6 - i: int(mark) for i, mark in enumerate(frets) if mark != "x"}
        found = find(chord, "full", inversion=0)
        assert expected in [dict(zip(c.fingering.strings, c.fingering.frets, strict=True)) for c in found]


def test_slash_bass() -> None:
    """A chord tone fixes the inversion; a foreign bass lies below the voicing, strummed or not."""
    assert {c.voicing.inversion for c in find("C/E", "spread")} == {1}
    for kind in ("close", "full"):
        found = find("C/D", kind)
        assert found
        assert all(c.voicing.midi[0] % 12 == 2 and c.voicing.inversion is None for c in found)
    assert find("C/E", "full", inversion=2) == ()


def test_without_and_size() -> None:
    """Tones may be left to somebody else, and the number of notes may be fixed."""
    assert {c.voicing.degrees[0] for c in find("C7", ANY, without=("1",))} <= {"3", "5", "b7"}
    assert {len(c.voicing.midi) for c in find("C9", ANY, size=4)} == {4}
    assert all("1" not in c.voicing.degrees for c in find("C7", "full", without=("1",)))
    assert {len(c.voicing.midi) for c in find("C", "full", size=5)} == {5}


def test_no_open_strings() -> None:
    """Without open strings every note is pressed."""
    assert all(min(c.fingering.frets) > 0 for c in find("E", "full", open_strings=False))


def test_written_as_the_drill_writes_it() -> None:
    """Equal chords keep their own spelling of the symbol."""
    assert str(find("C-7", "drop 2")[0].voicing.chord) == "C-7"
    assert str(find("Cm7", "drop 2")[0].voicing.chord) == "Cm7"


def test_a_smaller_hand_has_fewer() -> None:
    """What a small hand plays a large one plays too."""
    large = {c.fingering.frets for c in candidates(wish("Dm7", "drop 3"), GUITAR, make_hand("large"))}
    small = {c.fingering.frets for c in candidates(wish("Dm7", "drop 3"), GUITAR, make_hand("small"))}
    assert small < large


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (
            wish("C", top=top("7")),
            "the 7th on top is not a tone of C; with the 5th on top it can be played at fret 3",
        ),
        (
            wish("C", top=top("F4")),
            "F4 on top is not a tone of C; with E4 on top it can be played at fret 3",
        ),
        (
            wish("C", top=top("C9")),
            "C9 on top lies outside the instrument's range; with G5 on top it can be played at frets 13 to 15",
        ),
        (
            wish("C", top=top("C6")),
            "it lies above fret 15; elsewhere on the neck it can be played at frets 17 to 20",
        ),
        (
            wish("C", bottom=top("E2"), top=top("1")),
            "the top note is in the way; with the 5th on top it can be played at fret 3",
        ),
        (wish("C", "drop 2"), "there is no drop 2 voicing of C; as a close voicing it can be played at fret 1"),
        (
            wish("C", inversion=3),
            "C has 3 tones, so there is no inversion 3; in first inversion it can be played at fret 3",
        ),
        (
            wish("C", "full", strings=(3, 2, 1)),
            "the choice of strings is in the way; on strings 4 3 2 1 it can be played at frets 1 to 2",
        ),
        (wish("C", ANY, size=5), "there is no voicing of C of 5 notes; with 3 notes it can be played at fret 1"),
    ],
)
def test_why_none(asked: Wish, sentence: str) -> None:
    """The sentence names the part to blame and the nearest thing that works."""
    assert candidates(asked, GUITAR, HAND) == ()
    assert why_none(asked, GUITAR, HAND) == sentence


def test_why_none_blames_the_hand() -> None:
    """A stretch that a large hand reaches is told as one, and the next-best place is offered."""
    asked = wish("Cmaj7", "close", strings=(4, 3, 2, 1), frets=(1, 5), open_strings=False)
    small = make_hand("small")
    assert candidates(asked, GUITAR, make_hand("large"))
    assert candidates(asked, GUITAR, small) == ()
    assert why_none(asked, GUITAR, small) == (
        "the stretch is too wide for a small hand; elsewhere on the neck it can be played at frets 5 to 7"
    )


def test_what_works_when_relaxed_really_works() -> None:
    """Two parts that do not go together are both named."""
    reason = why_none(wish("G", strings=(4, 3, 2), frets=(0, 2), open_strings=False), GUITAR, HAND)
    assert reason.startswith("the range of frets and the choice of strings do not go together; ")
    assert "on strings 6 5 3" in reason


def test_wishes_that_make_no_sense() -> None:
    """Strings and frets that do not exist, and a chord without what makes it itself, are errors."""
    with pytest.raises(InstrumentError, match="no string 9"):
        find("C", strings=(9,))
    with pytest.raises(InstrumentError, match="wrong way round"):
        find("C", frets=(5, 2))
    with pytest.raises(MusicError, match="C7 without its b7 is another chord"):
        find("C7", "full", without=("b7",))
    assert why_none(wish("C7", "close", without=("3",)), GUITAR, HAND) == "C7 without its 3 is another chord"


def test_nothing_at_all_can_be_played() -> None:
    """One string sounds no triad, whatever gives way."""
    lone = make_instrument("E2")
    reason = why_none(wish("C"), lone, HAND)
    assert "nothing near it can be played on E2 tuning with a medium hand" in reason


def test_a_melody_note_outside_the_chord() -> None:
    """It lies on top, at most an octave above a voicing of the kind, spelled as the melody spells it."""
    asked = wish("C7", "drop 2", "shell", top=top("Db5"), added_top=True)
    found = candidates(asked, GUITAR, HAND)
    assert {len(c.voicing.midi) for c in found} == {4, 5}
    for one in found:
        assert one.voicing.names[-1] == "Db5"
        assert one.voicing.degrees[-1] == "b2"
        assert one.voicing.midi[-1] - one.voicing.midi[-2] <= 12
        assert one.voicing.kind == kind_of(asked.chord, one.voicing.midi[:-1])
        assert one.voicing.kind in asked.kinds


def test_a_melody_note_inside_the_chord() -> None:
    """It is the voicing's own top note, as without ``added_top``; beside a shell, which has no fifth, it is added."""
    for kind in ("drop 2", "close", "full"):
        plain = wish("C7", kind, top=top("G4"))
        assert candidates(wish("C7", kind, top=top("G4"), added_top=True), GUITAR, HAND) == candidates(
            plain, GUITAR, HAND
        )
    found = candidates(wish("C7", "shell", top=top("G4"), added_top=True), GUITAR, HAND)
    assert {c.voicing.names[-1] for c in found} == {"G4"}
    assert all(set(c.voicing.degrees[:-1]) == {"1", "3", "b7"} for c in found)


def test_fixed_notes() -> None:
    """Exactly these pitches, wherever they lie, spelled by the chord, then by the wish."""
    asked = wish("C", "drop 2", exact=(64, 60, 66), spelling=(Tone("G", -1),), frets=(0, 12))
    found = candidates(asked, GUITAR, HAND)
    places = fingerings(GUITAR, HAND, [60, 64, 66], frets=(0, 12))
    assert [c.fingering for c in found] == [way for place in places for way in ways_of(place)]
    assert len(found) > len(places)
    assert {c.voicing.names for c in found} == {("C4", "E4", "Gb4")}
    plain = candidates(wish("C", exact=(60, 66)), GUITAR, HAND)
    assert {c.voicing.names for c in plain} == {("C4", "F#4")}


def test_size_holds_for_every_kind() -> None:
    """Four notes are four, also where a kind always has three; a slash bass counts, an added melody note does not."""
    assert find("C7", "spread", "drop 2", size=4) == find("C7", "drop 2", size=4)
    assert {len(c.voicing.midi) for c in find("C7/D", "drop 2", size=5)} == {5}
    added = candidates(wish("C7", "drop 2", size=4, top=top("Db5"), added_top=True), GUITAR, HAND)
    assert {len(c.voicing.midi) for c in added} == {5}


def test_eight_strings() -> None:
    """A strummed shape may take all strings there are."""
    long_neck = make_instrument("eight string")
    assert max(len(c.voicing.midi) for c in candidates(wish("Em", "full"), long_neck, HAND)) == 8


def ways_of(shape: Fingering) -> tuple[Fingering, ...]:
    """Every sensible way to hold a shape."""
    return plain_sensible_grips(GUITAR, HAND, list(zip(shape.strings, shape.frets, strict=True)))


@pytest.mark.parametrize("kinds", [("full",), ("any",), ("full", "any"), ("shell", "drop 3")], ids=" ".join)
@pytest.mark.parametrize("chord", ["Dm11", "G7"])
def test_every_shape_comes_in_all_sensible_ways(chord: str, kinds: tuple[str, ...]) -> None:
    """One after the other, the proposed one first: the same as the plain search gives for these strings and frets."""
    found = [one.fingering for one in find(chord, *kinds)]
    rows = [list(ways) for _, ways in groupby(found, key=lambda one: (one.strings, one.frets))]
    assert len(rows) == len({(one.strings, one.frets) for one in found})
    assert rows == [list(ways_of(ways[0])) for ways in rows]
    assert all(
        ways[0] == plain_grip(GUITAR, HAND, list(zip(ways[0].strings, ways[0].frets, strict=True))) for ways in rows
    )
    assert max(map(len, rows)) > 1


def test_full_shapes_need_not_double_anything() -> None:
    """A ninth or a diminished seventh is strummed on four or five strings, each tone once (common practice)."""
    for chord, frets in (
        ("C9", "x3233x"),
        ("Bdim7", "x2313x"),
        ("Fmaj7", "xx3210"),
        ("C7", "x3231x"),
        ("C9", "x32333"),
    ):
        expected = {6 - i: int(mark) for i, mark in enumerate(frets) if mark != "x"}
        found = [dict(zip(c.fingering.strings, c.fingering.frets, strict=True)) for c in find(chord, "full")]
        assert expected in found
    for chord in ("C", "C9"):
        assert {len(c.voicing.midi) for c in find(chord, "full")} == {4, 5, 6}
        assert {c.voicing.kind for c in find(chord, "full")} == {"full"}


def test_three_notes_are_not_strummed() -> None:
    """Also where three are asked for: a full shape sounds on four strings at least."""
    assert find("C", "full", size=3) == ()
    assert find("E5", "full", size=3) == ()
    assert "with 4 notes" in why_none(wish("C", "full", size=3), GUITAR, HAND)


def test_full_shapes_have_every_needed_tone() -> None:
    """Doubled or not; only what a chord can do without may be missing."""
    for chord in ("C", "G7", "Am7/G", "E9", "A13"):
        quality = parse_chord(chord).quality
        degrees = [set(c.voicing.degrees) for c in find(chord, "full")]
        assert degrees
        assert all(set(quality.degrees) - set(quality.optional) <= some for some in degrees)


def test_every_voicing_is_named_as_the_plain_way_does() -> None:
    """Names, degrees, inversion and kind are those of ``voicing_of``."""
    for chord in ("Am7/G", "C/D", "F#m7b5", "Bb13"):
        for one in find(chord, ANY):
            assert one.voicing == voicing_of(parse_chord(chord), one.voicing.midi)
