"""Why a wish cannot be met: which part of it is to blame, and the nearest thing that can be played instead.

One part of the wish after the other is let go, then two at a time; the first that leaves something to play is to
blame. The order is the order in which a teacher would give way: the top note before the chord's spacing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any, Final, Protocol

from listener.errors import WidehandError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import USUAL_HIGHEST_FRET
from listener.music.pitch import parse_degree
from listener.music.voicing import ANY, FULL, KINDS, OTHER, Voicing, voicings
from listener.planning.drill import Line, Wish


class Playable(Protocol):
    """A voicing on the neck."""

    @property
    def voicing(self) -> Voicing:
        """What sounds."""

    @property
    def fingering(self) -> Fingering:
        """Where."""


Find = Callable[[Wish, Instrument, Hand], Sequence[Playable]]

#: The parts of a wish in the order in which they are let go, with their names in a sentence.
_PARTS: Final = {
    "top": "the top note",
    "bottom": "the bottom note",
    "inversion": "the inversion",
    "frets": "the range of frets",
    "strings": "the choice of strings",
    "open_strings": "doing without open strings",
    "size": "the number of notes",
    "without": "what is left out",
    "hand": "the reach of the hand",
    "kinds": "the kind of voicing",
}
_INVERSIONS: Final = ("root position", "first inversion", "second inversion", "third inversion")


def explain(wish: Wish, instrument: Instrument, hand: Hand, find: Find) -> str:
    """A sentence about a wish for which ``find`` finds nothing; ``find`` is the search for candidates."""
    try:
        find(wish, instrument, hand)
    except WidehandError as error:
        return str(error)
    facts = impossible(wish, instrument)
    if not facts and _without(("hand",), wish, instrument, hand, find) is not None:
        facts = f"the stretch is too wide for a {hand.size} hand"
    # The usual highest fret is ours, not the player's: it gives way first.
    order = ["frets", *_PARTS] if wish.frets is None else list(_PARTS)
    for count in (1, 2, 3):
        for parts in combinations(dict.fromkeys(order), count):
            nearest = _without(parts, wish, instrument, hand, find)
            if nearest is not None:
                blame = facts or _blame(parts)
                return f"{blame}; {_instead(parts, wish, nearest)}"
    nothing = f"nothing near it can be played on {instrument.name} tuning with a {hand.size} hand"
    return f"{facts}; {nothing}" if facts else nothing


def _blame(parts: Sequence[str]) -> str:
    names = [_PARTS[part] for part in parts]
    if len(names) == 1:
        return f"{names[0]} is to blame"
    return f"{', '.join(names[:-1])} and {names[-1]} exclude each other"


def impossible(wish: Wish, instrument: Instrument) -> str:
    """What no instrument could do, or this one whatever the hand; empty when there is no such thing."""
    chord = wish.chord
    low, high = instrument.range
    for line, place in ((wish.top, "on top"), (wish.bottom, "at the bottom")):
        if line.pitch is not None and not low <= line.pitch.midi <= high:
            return f"{line.pitch} {place} lies outside the instrument's range"
        if line.pitch is not None and line.pitch.midi % 12 not in chord.pitch_classes:
            return f"{line.pitch} {place} is no tone of {chord}"
        if line.degree is not None and chord.root.at(line.degree).pitch_class not in chord.pitch_classes:
            return f"{degree_word(line.degree)} {place} is no tone of {chord}"
    tones = len(chord.quality.degrees)
    if wish.inversion is not None and not 0 <= wish.inversion < tones:
        return f"{chord} has {tones} tones, so there is no inversion {wish.inversion}"
    pure = [kind for kind in wish.kinds if kind != FULL]
    if len(pure) == len(wish.kinds) and not any(
        voicings(chord, kind, low=low, high=high, without=wish.without, size=wish.size) for kind in pure
    ):
        size = f" of {wish.size} notes" if wish.size is not None else ""
        kinds = "" if ANY in pure else f"{' or '.join(pure)} "
        return f"there is no {kinds}voicing of {chord}{size}"
    return ""


def _without(parts: Sequence[str], wish: Wish, instrument: Instrument, hand: Hand, find: Find) -> Playable | None:
    """The nearest candidate when these parts are let go; None when one of them was not wished or nothing helps."""
    changes: dict[str, Any] = {}
    for part in parts:
        if part == "hand":
            largest = make_hand("large")
            if all(ours >= theirs for ours, theirs in zip(hand.reach_mm, largest.reach_mm, strict=True)):
                return None
            hand = largest
            continue
        free = _free(part, wish, instrument)
        if free == getattr(wish, part):
            return None
        changes[part] = free
    found = find(replace(wish, **changes), instrument, hand)
    return min(found, key=lambda candidate: _distance(wish, candidate), default=None)


def _free(part: str, wish: Wish, instrument: Instrument) -> object:
    if part == "frets":
        high = wish.frets[1] if wish.frets is not None else USUAL_HIGHEST_FRET
        reached = wish.frets is not None and wish.frets[0] == 0 and high >= instrument.highest_fret
        return wish.frets if reached else (0, instrument.highest_fret)
    if part == "kinds":
        return wish.kinds if ANY in wish.kinds and FULL in wish.kinds else (*KINDS, ANY)
    return {"top": Line(), "bottom": Line(), "open_strings": True, "without": ()}.get(part)


def _distance(wish: Wish, candidate: Playable) -> tuple[float, ...]:
    """How far a candidate is from the wish: notes off the lines, frets and strings outside, then strain."""
    fingering = candidate.fingering
    off = 0
    for line, note in ((wish.top, fingering.pitches[-1]), (wish.bottom, fingering.pitches[0])):
        off += abs(line.pitch.midi - note) if line.pitch is not None else 0
    low, high = wish.frets if wish.frets is not None else (0, USUAL_HIGHEST_FRET)
    outside = max(0, low - (fingering.lowest_fret or low)) + max(0, fingering.highest_fret - high)
    strange = len(set(fingering.strings) - set(wish.strings)) if wish.strings is not None else 0
    unnamed = candidate.voicing.kind == OTHER and ANY not in wish.kinds
    return off, outside, strange, unnamed, round(fingering.strain, 6), fingering.lowest_fret, fingering.highest_fret


def _instead(parts: Sequence[str], wish: Wish, nearest: Playable) -> str:
    said = " and ".join(filter(None, (_said(part, wish, nearest) for part in parts)))
    return f"{said + ' ' if said else ''}it can be played {place(nearest.fingering)}"


def _said(part: str, wish: Wish, nearest: Playable) -> str:
    voicing, fingering = nearest.voicing, nearest.fingering
    if part in ("top", "bottom"):
        line, index, where = (wish.top, -1, "on top") if part == "top" else (wish.bottom, 0, "at the bottom")
        note = str(voicing.pitches[index]) if line.pitch is not None else degree_word(voicing.degrees[index])
        return f"with {note} {where}"
    if part == "inversion":
        known = voicing.inversion is not None and voicing.inversion < len(_INVERSIONS)
        return f"in {_INVERSIONS[voicing.inversion or 0]}" if known else "with another bass"
    return {
        "frets": "elsewhere on the neck",
        "strings": f"on strings {' '.join(map(str, fingering.strings))}",
        "open_strings": "with open strings",
        "size": f"with {len(fingering.pitches)} notes",
        "without": "with all its tones",
        "hand": "by a large hand",
        "kinds": "spaced otherwise" if voicing.kind == OTHER else f"as a {voicing.kind} voicing",
    }[part]


def place(fingering: Fingering) -> str:
    """Where a fingering lies, in words: ``at fret 3``, ``at frets 3 to 5``, ``on open strings``."""
    low, high = fingering.lowest_fret, fingering.highest_fret
    if not high:
        return "on open strings"
    return f"at fret {low}" if low == high else f"at frets {low} to {high}"


def degree_word(degree: str) -> str:
    """A degree as it is said: ``the root``, ``the 3rd``, ``the b7th``."""
    if degree == "1":
        return "the root"
    number, _ = parse_degree(degree)
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th") if not 11 <= number <= 13 else "th"
    return f"the {degree}{ending}"


def _line_words(line: Line, where: str) -> str:
    return f"{line.pitch if line.pitch is not None else degree_word(line.degree or '1')} {where}"


def wish_words(wish: Wish) -> str:
    """A wish as a player would say it: ``C spread, the 3rd on top, frets 0 to 5``."""
    return ", ".join(
        [
            f"{wish.chord} {' or '.join(wish.kinds)}" if ANY not in wish.kinds else f"{wish.chord} in any voicing",
            *_conditions(wish),
        ]
    )


def _conditions(wish: Wish) -> Iterator[str]:
    if wish.top != Line():
        yield _line_words(wish.top, "on top")
    if wish.bottom != Line():
        yield _line_words(wish.bottom, "at the bottom")
    if wish.inversion is not None:
        yield _INVERSIONS[wish.inversion] if 0 <= wish.inversion < 4 else f"inversion {wish.inversion}"
    if wish.size is not None:
        yield f"{wish.size} notes"
    if wish.without:
        yield f"without {' '.join(wish.without)}"
    if wish.strings is not None:
        yield f"strings {' '.join(map(str, wish.strings))}"
    if wish.frets is not None:
        yield f"frets {wish.frets[0]} to {wish.frets[1]}"
    if not wish.open_strings:
        yield "no open strings"
