"""Tunes of music21's corpus become chord-melody drills, are planned, and where not, the reason given is right.

Source: music21 10.5.1 (BSD) and the corpus that comes with it: Ryan's Mammoth Collection (1883), O'Neill's Music of
Ireland (1850 tunes), Aird's Airs, Essen folk songs, chorale sopranos, songs of the 14th century, a file of the
Nottingham collection and two lead sheets (both with chord symbols). Tunes are picked by a seeded draw from sorted
files, never by name; music21 writes those that are ABC as MusicXML, the others are read as they lie there. The chords
of tunes without any are our own guess; ``test_harmonise_music21.py`` says how good it is.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from listener.drill.drill import Wish
from listener.drill.making.chord_melody import TuneSetting, drill_of, set_tune
from listener.errors import PlanError, WidehandError
from listener.guitar.grip import grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.pitch import spell
from listener.music.voicing import tone_sets
from listener.planning.planner import plan_drill
from listener.planning.tune_place import fitted, without_shape
from listener.tunes.melody import read_melody

GUITAR, HAND = make_instrument(), make_hand()
#: Folder, files, tunes of each file.
COLLECTIONS = (("oneills1850", 7, 7), ("airdsAirs", 6, 5), ("essenFolksong", 6, 7), ("nottingham-dataset", 1, 2))
SINGLE = (("ryansMammoth", "*.abc", 48), ("bach", "bwv*.mxl", 30), ("trecento", "*.xml", 20), ("leadSheet", "*.mxl", 2))
QUICK = 10


@dataclass(frozen=True)
class Source:
    """A tune as bytes of MusicXML, and which part of it is the tune."""

    name: str
    data: bytes
    part: str | None


def sources(music21: Any, folder: Path, share: int = 1) -> Iterator[Source]:
    """Tunes from everywhere; with ``share`` only every so many of each collection."""
    root = Path(music21.__file__).parent / "corpus"
    draw = random.Random(11)
    for name, pattern, count in SINGLE:
        paths = sorted((root / name).glob(pattern))
        draw.shuffle(paths)
        for path in paths[: max(1, count // share)]:
            if path.suffix == ".abc":
                yield from written(music21, path.read_text(encoding="utf-8", errors="replace"), path.name, folder)
            else:
                yield Source(f"{name}/{path.name}", path.read_bytes(), None if name == "leadSheet" else "1")
    for name, count, each in COLLECTIONS:
        paths = sorted((root / name).glob("*.abc"))
        draw.shuffle(paths)
        for path in paths[: max(1, count // share)]:
            pieces = re.split(r"(?m)^(?=X:)", path.read_text(encoding="utf-8", errors="replace"))[1:]
            draw.shuffle(pieces)
            for number, piece in enumerate(pieces[: max(1, each // share)]):
                yield from written(music21, piece, f"{path.name} {number}", folder)


def written(music21: Any, abc: str, name: str, folder: Path) -> Iterator[Source]:
    """The tune as music21 writes it; what music21 itself cannot read or write is no test of ours."""
    try:
        score = music21.converter.parse(abc, format="abc")
        path = Path(score.write("musicxml", folder / "tune.musicxml"))
    except Exception:
        return
    yield Source(name, path.read_bytes(), None)


@dataclass(frozen=True)
class Outcome:
    """What became of a tune; ``reason`` is empty where it was planned in full."""

    name: str
    before: TuneSetting | None
    after: TuneSetting | None
    reason: str


def made(source: Source) -> Outcome:
    """Read, harmonised where needed, placed on the neck, read back from its drill file and planned."""
    before = after = None
    try:
        before = set_tune(read_melody(source.data, source.name, part=source.part))
        after = fitted(before, "any", GUITAR, HAND)
        drill = drill_of(after)
        plan = plan_drill(drill, GUITAR, HAND)
    except WidehandError as error:
        return Outcome(source.name, before, after, str(error))
    tops = [planned.fingering.pitches[-1] for planned in plan.steps if planned.step.wish.top.pitch is not None]
    wanted = [step.wish.top.pitch.midi for step in drill.steps if step.wish.top.pitch is not None]
    assert tops == wanted, source.name
    durations = sum(step.length_beats for step in drill.steps)
    chords = sum(float(chord.length_beats) for chord in after.chords) * after.meter[1] / 4
    assert durations == pytest.approx(chords), source.name
    assert all(note.pitch.midi in set(tops) for note in after.melody.notes) or any(
        "left out" in r for r in after.remarks
    )
    return Outcome(source.name, before, after, "")


def has_shape(wish: Wish, highest_fret: int) -> bool:
    """Plain search: every string silent or pressed somewhere, the wished note on top, all tones that must be there.

    It knows nothing of the planner's tables: only what the strings sound, which sets of tones make the chord, and
    whether a hand holds it. A note foreign to the chord lies at most an octave over the chord's own highest.
    """
    top = wish.top.pitch
    assert top is not None
    sets = [frozenset(wish.chord.root.at(degree).pitch_class for degree in tones) for tones in tone_sets(wish.chord)]
    classes = frozenset().union(*sets)
    foreign = top.midi % 12 not in classes
    places: list[list[tuple[int, int] | None]] = []
    for string in range(1, GUITAR.string_count + 1):
        sounding = [(string, fret) for fret in range(highest_fret + 1) if GUITAR.pitch(string, fret) <= top.midi]
        here = [place for place in sounding if GUITAR.pitch(*place) % 12 in classes or GUITAR.pitch(*place) == top.midi]
        places.append([None, *here])
    for choice in product(*places):
        placed = [place for place in choice if place is not None]
        pitches = sorted(GUITAR.pitch(*place) for place in placed)
        if len(placed) < 2 or pitches[-1] != top.midi or len(set(pitches)) < len(pitches):
            continue
        under = pitches[:-1] if foreign else pitches
        if foreign and (top.midi - under[-1] > 12 or any(note % 12 not in classes for note in under)):
            continue
        if frozenset(note % 12 for note in under) in sets and grip(GUITAR, HAND, placed) is not None:
            return True
    return False


def report(outcomes: list[Outcome]) -> Counter[str]:
    """How many tunes were planned as they are, moved, or not, and why."""
    found: Counter[str] = Counter()
    for one in outcomes:
        if one.reason:
            found[re.sub(r"[\d.]+|[A-G][#b]*\d?\S*", "_", one.reason.split(": ", 1)[-1])[:60]] += 1
        elif one.before is not None and one.after is not None and one.before.melody.notes == one.after.melody.notes:
            found["far up the neck" if one.after.frets else "as it is"] += 1
        else:
            found["another key" if one.after and "moved to" in one.after.remarks[-1] else "another octave"] += 1
    return found


def check_reasons(outcomes: list[Outcome]) -> int:
    """Every tune that was not planned has a step and a note that plain search does not find either."""
    checked = 0
    for one in outcomes:
        if one.reason and one.after is not None:
            assert one.reason.startswith("step "), one
            highest = one.after.frets[1] if one.after.frets else 15
            wishes = {step.wish for step in drill_of(one.after).steps}
            missing = list(without_shape(wishes, GUITAR, HAND))
            assert missing, one
            assert not any(has_shape(wish, highest) for wish in missing if wish.top.pitch is not None), one
            checked += 1
        elif one.reason:
            assert "is not a meter" in one.reason, one  # music21 writes an odd bar of one tune as 1/6
    return checked


def test_some_tunes(music21: Any, tmp_path: Path) -> None:
    """A few of every collection."""
    outcomes = [made(source) for source in sources(music21, tmp_path, share=12)]
    check_reasons(outcomes)
    assert len(outcomes) >= QUICK
    assert sum(not one.reason for one in outcomes) >= QUICK


@pytest.mark.slow
def test_two_hundred_tunes(music21: Any, tmp_path: Path) -> None:
    """At least two hundred tunes are planned in full, or the reason why not is right; pytest -s prints how
    many of each."""
    outcomes = [made(source) for source in sources(music21, tmp_path)]
    check_reasons(outcomes)
    print(f"{len(outcomes)} tunes: {dict(report(outcomes).most_common())}")
    assert len(outcomes) >= 200
    assert all(one.after is not None or one.reason for one in outcomes)


def test_what_has_a_shape_and_what_has_none(music21: Any, tmp_path: Path) -> None:
    """The lowest and highest notes of tunes as they are written, before they are moved: plain search finds a shape
    exactly where the planner does."""
    agreed: Counter[bool] = Counter()
    for source in list(sources(music21, tmp_path, share=24))[:6]:
        setting = set_tune(read_melody(source.data, source.name, part=source.part))
        noted = {step.wish: step.wish.top.pitch.midi for step in drill_of(setting).steps if step.wish.top.pitch}
        wishes = sorted(noted, key=lambda wish: (noted[wish], repr(wish)))
        for wish in {*wishes[:3], *wishes[-3:]}:
            missing = bool(list(without_shape([wish], GUITAR, HAND)))
            assert missing != has_shape(wish, 15), (source.name, wish)
            agreed[missing] += 1
    assert agreed[False] >= 10
    assert agreed[True] >= 2


def test_an_unplayable_tune_says_which_note(music21: Any) -> None:
    """A chorale's soprano four octaves wide, made so by hand: the step that is named is one plain search fails, too."""
    path = sorted((Path(music21.__file__).parent / "corpus" / "bach").glob("bwv*.mxl"))[0]
    melody = read_melody(path.read_bytes(), path.name, part="1")
    notes = tuple(
        replace(note, pitch=spell(note.pitch.midi + (24 if number % 5 == 0 else -12)))
        for number, note in enumerate(melody.notes)
    )
    after = fitted(set_tune(replace(melody, notes=notes)), "any", GUITAR, HAND)
    drill = drill_of(after)
    with pytest.raises(PlanError) as caught:
        plan_drill(drill, GUITAR, HAND)
    assert caught.value.step is not None
    wish = drill.steps[caught.value.step - 1].wish
    assert not has_shape(wish, after.frets[1] if after.frets else 15)
    assert f"the melody note {wish.top.pitch} on top" in str(caught.value)
    assert "cannot be played" in str(caught.value)
