"""Names of notes against music21, on sets that the code picks and nobody by hand.

Two populations, both seeded: chords of every quality that MusicXML has a kind for, built on random roots in random
spacings and inversions; and random sets of three and four notes. Counted are the sets that music21 names in full (its
``harmony.chordSymbolFromChord`` gives "Cannot Be Identified" for others, or a figure with ``add`` when tones are left
over). Names agree when root and quality are the same. Every disagreement must fall into one of the classes below; a
class that nothing falls into any more fails, too.

music21 reads chords as spelled: built chords are handed over with our spelling, random sets with music21's own.
"""

from __future__ import annotations

import csv
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from listener.music.chord import Chord
from listener.music.naming import Naming, name_pitches
from listener.music.pitch import parse_degree, parse_tone
from listener.music.quality import Quality, qualities
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, SPREAD, voicings

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
#: music21's words for qualities where they are not MusicXML's.
THEIR_WORDS = {
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "minor-major-seventh": "major-minor",
}
#: music21's words for qualities that MusicXML has no kind for.
THEIR_NAMES = {
    "augmented-major-seventh": "augmented major seventh",
    "minor-major-ninth": "minor major ninth",
    "seventh-flat-five": "dominant seventh flat five",
}
#: No name at all, and music21's words for what a chord does in a key rather than for what it is.
NOT_QUALITIES = {"", "Neapolitan", "Italian", "French", "German", "pedal", "Tristan"}
PER_QUALITY = 8
RANDOM_SETS = 140
TABLE = Path(__file__).parents[1] / "tables" / "random_sets_named.csv"


@dataclass(frozen=True)
class Case:
    """A set of notes, music21's root and quality for it, and our readings."""

    notes: tuple[int, ...]
    root: int
    kind: str
    figure: str
    ours: tuple[Naming, ...]

    @property
    def chord(self) -> Chord:
        """Our first reading."""
        return self.ours[0].voicing.chord

    @property
    def quality(self) -> Quality:
        """Our quality for music21's word."""
        kind = THEIR_WORDS.get(self.kind, self.kind)
        found = [q for q in qualities() if q.musicxml == kind or q.name == THEIR_NAMES.get(kind)]
        assert len(found) == 1, kind
        return found[0]

    @property
    def agrees(self) -> bool:
        """Same root, same quality."""
        return bool(self.ours) and (self.chord.root.pitch_class, self.chord.quality) == (self.root, self.quality)


def _case(music21: Any, notes: tuple[int, ...], names: list[str] | None) -> Case | None:
    """What both call the notes, or None when music21 has no full name."""
    chord = music21.chord.Chord(names if names is not None else list(notes))
    if names is None:
        chord = chord.simplifyEnharmonics()
    try:
        symbol = music21.harmony.chordSymbolFromChord(chord)
    except music21.exceptions21.Music21Exception:
        return None
    if "Cannot" in symbol.figure or "add" in symbol.figure or symbol.chordKind in NOT_QUALITIES:
        return None
    return Case(notes, symbol.root().pitchClass, symbol.chordKind, symbol.figure, name_pitches(notes))


@pytest.fixture(scope="module")
def built(music21: Any) -> list[Case]:
    """Chords of every MusicXML kind on random roots, spaced at random."""
    pick = random.Random(20)
    cases = []
    for quality in qualities():
        if quality.musicxml is None or quality.rarity is None:
            continue
        size = len(quality.degrees)
        kinds = {3: (CLOSE, SPREAD), 4: (CLOSE, DROP_2, DROP_3, DROP_2_4)}.get(size, (CLOSE,))
        for _ in range(PER_QUALITY):
            chord = Chord(parse_tone(pick.choice(ROOTS)), quality)
            kind = pick.choice(kinds)
            notes = pick.choice(_close(chord) if size > 4 else voicings(chord, kind, low=40, high=76, size=size))
            names = [str(chord.tone_of(note).pitch(note)).replace("b", "-") for note in notes]  # type: ignore[union-attr]
            case = _case(music21, notes, names)
            if case is not None:
                cases.append(case)
    return cases


def _close(chord: Chord) -> list[tuple[int, ...]]:
    """All close positions with every tone, also an eleventh that no voicing of a thirteenth is built with."""
    positions = [
        tuple(sorted(lowest + (pitch_class - lowest) % 12 for pitch_class in chord.pitch_classes))
        for lowest in range(40, 77)
        if lowest % 12 in chord.pitch_classes
    ]
    return [notes for notes in positions if notes[-1] <= 76]


def _sets(music21: Any) -> list[Case]:
    """Random sets of three or four notes within a twentieth that music21 names in full."""
    pick = random.Random(21)
    cases: dict[tuple[int, ...], Case] = {}
    while len(cases) < RANDOM_SETS:
        low = pick.randint(40, 60)
        notes = tuple(sorted(pick.sample(range(low, low + 20), pick.choice((3, 4)))))
        if len({note % 12 for note in notes}) == len(notes) and notes not in cases:
            case = _case(music21, notes, None)
            if case is not None:
                cases[notes] = case
    return list(cases.values())


@pytest.fixture(scope="module")
def drawn() -> list[Case]:
    """The same from a table that music21 has filled, for it takes its time."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return [
            Case(notes, int(row["root"]), row["kind"], row["figure"], name_pitches(notes))
            for row in csv.DictReader(file)
            for notes in [tuple(map(int, row["notes"].split()))]
        ]


@pytest.mark.slow
def test_the_table_is_what_music21_says(music21: Any, drawn: list[Case]) -> None:
    """Set by set, drawn and named anew."""
    assert drawn == _sets(music21)


def _twin_over_its_root(case: Case) -> bool:
    """C6 and Am7 (Cm6 and Am7b5) are the same tones. Over C we say C6, music21 stacks thirds and says Am7."""
    twins = {("sixth", "minor seventh"), ("minor sixth", "half-diminished")}
    return (case.chord.quality.name, case.quality.name) in twins and _root_in_bass(case)


def _even_chord(case: Case) -> bool:
    """Augmented triads, diminished sevenths and 7b5 chords repeat within the octave: any of their tones (any other) may
    be the root. We take the bass if it can be, music21 goes by the spelling."""
    even = {"augmented": 4, "diminished seventh": 3, "dominant seventh flat five": 6}
    turn = even.get(case.quality.name)
    if turn is None or case.chord.quality != case.quality or (case.chord.root.pitch_class - case.root) % turn:
        return False
    return _root_in_bass(case) or (case.notes[0] - case.root) % turn != 0


def _all_tones_belong(case: Case) -> bool:
    """music21 says a triad or fifth over a foreign bass; for us all tones belong to one chord (F/G is G9sus4)."""
    foreign = case.notes[0] % 12 not in {(case.root + interval) % 12 for interval in case.quality.intervals}
    return foreign and case.chord.bass is None


def _large_chord(case: Case) -> bool:
    """The six or seven tones of an eleventh or thirteenth are also those of others; we take the root for which the bass
    is the lower chord tone, counted in thirds."""
    return len(case.notes) >= 6 and _ours_sits_lower(case)


def _suspended_over_its_root(case: Case) -> bool:
    """A major ninth over its ninth (Emaj9 over F#) is the suspended thirteenth that players write (F#13sus4)."""
    return "sus4" in case.chord.quality.symbol and _root_in_bass(case) and _ours_sits_lower(case)


def _ours_sits_lower(case: Case) -> bool:
    """Whether the bass is a lower tone of our chord than of music21's, which must be complete for both."""
    theirs = case.quality.degree_at(case.notes[0] - case.root)
    ours = case.ours[0].voicing.degrees[0]
    covered = {(case.root + interval) % 12 for interval in case.quality.intervals}
    complete = covered == {note % 12 for note in case.notes} <= case.chord.pitch_classes
    return complete and theirs is not None and parse_degree(ours)[0] < parse_degree(theirs)[0]


def _root_in_bass(case: Case) -> bool:
    return case.chord.root.pitch_class == case.notes[0] % 12


CLASSES: tuple[Callable[[Case], bool], ...] = (
    _twin_over_its_root,
    _even_chord,
    _all_tones_belong,
    _large_chord,
    _suspended_over_its_root,
)


def _explained(cases: list[Case]) -> tuple[Counter[str], list[str]]:
    """How many disagreements each class explains, and those that none does."""
    count: Counter[str] = Counter()
    unexplained = []
    for case in cases:
        if case.agrees:
            continue
        names = [test.__name__ for test in CLASSES if case.ours and test(case)]
        count.update(names[:1])
        if not names:
            ours = [naming.voicing.chord.symbol for naming in case.ours]
            unexplained.append(f"{case.notes}: music21 {case.figure} ({case.kind}), we {ours}")
    return count, unexplained


def test_built_chords(built: list[Case]) -> None:
    """On chords built from every MusicXML kind we and music21 agree, but for explained classes."""
    _, unexplained = _explained(built)
    assert unexplained == []
    assert len({case.notes for case in built if case.agrees}) >= 100


def test_random_sets(drawn: list[Case]) -> None:
    """On random sets of three and four notes we agree with music21, but for explained classes."""
    _, unexplained = _explained(drawn)
    assert unexplained == []
    assert sum(case.agrees for case in drawn) >= 100


def test_every_class_is_needed(built: list[Case], drawn: list[Case]) -> None:
    """No class of explanations is left over, and together they stay the exception."""
    count, _ = _explained(built + drawn)
    assert set(count) == {test.__name__ for test in CLASSES}
    assert sum(count.values()) <= 0.25 * len(built + drawn)


def test_inversions(music21: Any, built: list[Case]) -> None:
    """Where triads and sevenths agree, music21 finds the same inversion."""
    compared = 0
    for case in built:
        voicing = case.ours[0].voicing
        if (
            case.agrees
            and len(case.quality.degrees) <= 4
            and case.quality.name not in ("fifth", "sixth", "minor sixth")
        ):
            chord = music21.chord.Chord([name.replace("b", "-") for name in voicing.names])
            if "sus" not in case.quality.symbol:
                assert chord.inversion() == voicing.inversion, case
                compared += 1
    assert compared >= 50
