"""Is there room for a wish on an ordinary guitar? A quick answer from pitches alone, for deciding octaves.

Reading a drill has to choose octaves (where a scale run begins, how far a passage moves into another key) before any
instrument or hand is known. It looks at six strings in standard tuning and asks whether the notes lie on them within a
window of frets. What a hand can really hold is for the planner to say.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import Final

from listener.drill.drill import Wish
from listener.errors import MusicError
from listener.music.voicing import FULL, voicings

#: Standard tuning as MIDI notes by string, 1 = highest.
OPEN_STRINGS: Final = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}
#: The highest fret where nothing else is said: what the planner presses, too.
USUAL_HIGHEST_FRET: Final = 15
#: Frets from the lowest to the highest pressed one, both counted: a usual reach with a stretch (common practice).
_WINDOW: Final = 5


@lru_cache(maxsize=4096)
def has_room(wish: Wish) -> bool:
    """Whether some voicing of the wish lies on the strings and frets that it allows."""
    if wish.exact is not None:
        return _lies(wish.exact, wish)
    try:
        return any(_kind_has_room(wish, kind) for kind in wish.kinds)
    except MusicError:  # the wish contradicts itself, which is reported elsewhere
        return True


def _kind_has_room(wish: Wish, kind: str) -> bool:
    if kind == FULL:  # strummed shapes depend on the neck; their named notes have to be there, at least
        return all(_lies((pitch.midi,), wish) for pitch in (wish.top.pitch, wish.bottom.pitch) if pitch is not None)
    return any(_lies(notes, wish) for notes in _sounding(wish, kind))


def _sounding(wish: Wish, kind: str) -> Iterator[tuple[int, ...]]:
    """The voicings of one kind that keep the lines, with a top note foreign to the chord added."""
    top = wish.top.pitch
    foreign = wish.added_top and top is not None and wish.chord.degree_of(top.midi) is None
    low, high = min(OPEN_STRINGS.values()), max(OPEN_STRINGS.values()) + USUAL_HIGHEST_FRET
    found = voicings(
        wish.chord, kind, low=low, high=high, inversion=wish.inversion, without=wish.without, size=wish.size
    )
    for notes in found:
        if not wish.bottom.allows(wish.chord, notes[0]):
            continue
        if foreign and top is not None:
            if 0 < top.midi - notes[-1] <= 12:
                yield (*notes, top.midi)
        elif wish.top.allows(wish.chord, notes[-1]):
            yield notes


def _lies(notes: Sequence[int], wish: Wish) -> bool:
    """Whether the notes lie on as many strings, low to high, inside one window of frets."""
    strings = sorted((string for string in wish.strings or OPEN_STRINGS if string in OPEN_STRINGS), reverse=True)
    low, high = wish.frets or (0, USUAL_HIGHEST_FRET)
    for chosen in combinations(strings, len(notes)):
        frets = [note - OPEN_STRINGS[string] for note, string in zip(notes, chosen, strict=True)]
        pressed = [fret for fret in frets if fret]
        if any(fret < max(low, 1) or fret > high for fret in pressed):
            continue
        if len(pressed) < len(frets) and not wish.open_strings:
            continue
        if not pressed or max(pressed) - min(pressed) < _WINDOW:
            return True
    return False
