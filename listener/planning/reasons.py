"""Why a wish cannot be met: which part of it is to blame, and the nearest thing that can be played instead.

One part of the wish after the other is let go, then two at a time, then three; the first that leaves something to play
is to blame. The order is the order in which a teacher would give way: the top note before the chord's spacing. What is
offered instead is as near to the wish as can be, and of equally near things the one with the least effort; a place far
up the neck, beside open strings or at the limit of the hand is offered only when giving way elsewhere is no better.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any, Final, Protocol

from listener.drill.drill import NoteWish, Wish
from listener.drill.manners import VOICE_LEADING, manner
from listener.errors import WidehandError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import USUAL_HIGHEST_FRET
from listener.music.movement import movement
from listener.music.naming_words import INVERSIONS
from listener.music.voicing import ANY, FULL, KINDS, OTHER, Voicing
from listener.plain_words import listed
from listener.planning.routes.facts import own_cost
from listener.planning.shapes.tones import wished_tones
from listener.planning.wish_words import degree_word, note_names, place


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
    "exact_strings": "the choice of strings",
    "hand": "the reach of the hand",
    "kinds": "the kind of voicing",
    "octave": "the octave",
    "exact": "the choice of notes",
}
#: Octaves by which fixed notes are moved to find a place for them, nearest first.
_OCTAVES: Final = (-12, 12, -24, 24)
#: Frets above open strings, and share of the hand's reach, from which on a place is offered only for want of a better.
_ODD_GAP: Final = 3
_ODD_STRAIN: Final = 0.9


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
        tried = [
            (parts, nearest)
            for parts in combinations(dict.fromkeys(order), count)
            if (nearest := _without(parts, wish, instrument, hand, find)) is not None
        ]
        if tried:
            parts, nearest = min(tried, key=lambda one: _is_odd(wish, *one))
            return f"{facts or _blame(parts, wish)}; {_instead(parts, wish, nearest)}"
    nothing = f"nothing near it can be played on {instrument.name} tuning with a {hand.size} hand"
    return f"{facts}; {nothing}" if facts else nothing


def _blame(parts: Sequence[str], wish: Wish) -> str:
    names = [_PARTS[part] for part in parts]
    if len(names) > 1:
        return f"{listed(names)} do not go together"
    if parts[0] == "frets" and wish.frets is None:
        return f"it lies above fret {USUAL_HIGHEST_FRET}"
    if parts[0] == "top" and wish.added_top:
        return "the melody note is in the way"
    return f"{names[0]} is in the way"


def _is_odd(wish: Wish, parts: Sequence[str], nearest: Playable) -> bool:
    """Whether a teacher would rather not offer this place. Far up the neck is fine when nobody forbade it."""
    fingering = nearest.fingering
    high = max(USUAL_HIGHEST_FRET, wish.frets[1] if wish.frets is not None else 0)
    beyond = fingering.highest_fret > high and (wish.frets is not None or tuple(parts) != ("frets",))
    return beyond or _open_gap(fingering) > _ODD_GAP or fingering.strain > _ODD_STRAIN


def _open_gap(fingering: Fingering) -> int:
    """Frets by which the hand lies above open strings that sound with it, the first fret free."""
    return max(0, fingering.lowest_fret - 1) if 0 in fingering.frets else 0


def _effort(fingering: Fingering) -> float:
    """What the hand's part of a shape's cost is where voices lead."""
    return own_cost(fingering, manner(VOICE_LEADING))


def impossible(wish: Wish, instrument: Instrument) -> str:
    """What no instrument could do, or this one whatever the hand; empty when there is no such thing."""
    chord = wish.chord
    low, high = instrument.range
    if wish.exact is not None:
        return _impossible_notes(wish, wish.exact, instrument)
    for line, where in ((wish.top, "on top"), (wish.bottom, "at the bottom")):
        added = wish.added_top and line is wish.top
        if line.pitch is not None and not low <= line.pitch.midi <= high:
            return f"{line.pitch} {where} lies outside the instrument's range"
        if line.pitch is not None and line.pitch.midi % 12 not in chord.pitch_classes and not added:
            return f"{line.pitch} {where} is not a tone of {chord}"
        if line.degree is not None and chord.root.at(line.degree).pitch_class not in chord.pitch_classes:
            return f"{degree_word(line.degree)} {where} is not a tone of {chord}"
    tones = len(chord.quality.degrees)
    if wish.inversion is not None and not 0 <= wish.inversion < tones:
        return f"{chord} has {tones} tones, so there is no inversion {wish.inversion}"
    if not any(_is_possible(wish, kind) for kind in wish.kinds):
        size = f" of {wish.size} notes" if wish.size is not None else ""
        kinds = "" if ANY in wish.kinds else f"{' or '.join(wish.kinds)} "
        return f"there is no {kinds}voicing of {chord}{size}"
    return ""


def _impossible_notes(wish: Wish, pitches: Sequence[int], instrument: Instrument) -> str:
    """The same for notes that are fixed."""
    low, high = instrument.range
    if not pitches:
        return "no notes are asked for"
    if len(pitches) > instrument.string_count:
        return f"{len(pitches)} notes are more than the {instrument.string_count} strings there are"
    outside = [note for note in pitches if not low <= note <= high]
    if outside:
        names = note_names(wish, tuple(outside))
        return f"{names} {'lies' if len(outside) == 1 else 'lie'} outside the instrument's range"
    for line, where, note in ((wish.top, "on top", max(pitches)), (wish.bottom, "at the bottom", min(pitches))):
        if not line.allows(wish.chord, note):
            return f"the fixed notes have {note_names(wish, (note,))} {where}, not {_line_name(line)}"
    return ""


def _line_name(line: NoteWish) -> str:
    return str(line.pitch) if line.pitch is not None else degree_word(line.degree or "1")


def _is_possible(wish: Wish, kind: str) -> bool:
    """Whether the chord has voicings of this kind and number of notes, wherever they may lie."""
    tones = wished_tones(replace(wish, top=NoteWish()), kind)
    if wish.size is None or kind == FULL:
        return bool(tones.wanted)
    return any(mask.bit_count() == wish.size for mask in tones.wanted)


def _without(parts: Sequence[str], wish: Wish, instrument: Instrument, hand: Hand, find: Find) -> Playable | None:
    """The nearest candidate when these parts are let go; None when one of them was not wished or nothing helps."""
    changes: dict[str, Any] = {}
    for part in parts:
        if part == "hand":
            largest = make_hand("large")
            if all(ours >= theirs for ours, theirs in zip(hand.reach_mm, largest.reach_mm, strict=True)):
                return None
            hand = largest
        elif part == "octave":
            if wish.exact is None or "exact" in parts:
                return None
        else:
            free = _free(part, wish, instrument)
            if free == getattr(wish, part):
                return None
            changes[part] = free
    relaxed = [replace(wish, **changes)]
    if "octave" in parts:
        relaxed = [replace(relaxed[0], exact=tuple(note + away for note in wish.exact or ())) for away in _OCTAVES]
    for nearer in relaxed:
        found = _found(nearer, instrument, hand, find)
        if found:
            return min(found, key=lambda candidate: _distance(wish, candidate))
    return None


def _found(wish: Wish, instrument: Instrument, hand: Hand, find: Find) -> Sequence[Playable]:
    """What there is for a relaxed wish; one that makes no sense, or asks for too much, has nothing to offer."""
    try:
        return find(wish, instrument, hand)
    except WidehandError:
        return ()


def _free(part: str, wish: Wish, instrument: Instrument) -> object:
    if part == "frets":
        high = wish.frets[1] if wish.frets is not None else USUAL_HIGHEST_FRET
        reached = wish.frets is not None and wish.frets[0] == 0 and high >= instrument.highest_fret
        return wish.frets if reached else (0, instrument.highest_fret)
    if part == "kinds":
        return wish.kinds if ANY in wish.kinds and FULL in wish.kinds else (*KINDS, ANY)
    return {"top": NoteWish(), "bottom": NoteWish(), "open_strings": True, "without": (), "exact_strings": ()}.get(part)


def _distance(wish: Wish, candidate: Playable) -> tuple[float, ...]:
    """How far a candidate is from the wish: notes off the lines, frets and strings outside, then effort."""
    fingering = candidate.fingering
    off = movement(sorted(wish.exact), fingering.pitches).cost if wish.exact else 0
    for line, note in ((wish.top, fingering.pitches[-1]), (wish.bottom, fingering.pitches[0])):
        off += abs(line.pitch.midi - note) if line.pitch is not None else 0
    low, high = wish.frets if wish.frets is not None else (0, USUAL_HIGHEST_FRET)
    outside = max(0, low - (fingering.lowest_fret or low)) + max(0, fingering.highest_fret - high)
    strange = len(set(fingering.strings) - set(wish.strings)) if wish.strings is not None else 0
    unnamed = candidate.voicing.kind == OTHER and ANY not in wish.kinds
    return off, outside, strange, unnamed, round(_effort(fingering), 6), fingering.lowest_fret, fingering.highest_fret


def _instead(parts: Sequence[str], wish: Wish, nearest: Playable) -> str:
    said = " and ".join(filter(None, (_said(part, wish, nearest) for part in parts)))
    return f"{said + ' ' if said else ''}it can be played {place(nearest.fingering)}"


def _said(part: str, wish: Wish, nearest: Playable) -> str:
    voicing, fingering = nearest.voicing, nearest.fingering
    if part in ("top", "bottom"):
        line, index, where = (wish.top, -1, "on top") if part == "top" else (wish.bottom, 0, "at the bottom")
        note = str(voicing.pitches[index]) if line.pitch is not None else degree_word(voicing.degrees[index])
        return f"with {note} {where}"
    if part == "octave":
        octaves = (fingering.pitches[0] - min(wish.exact or (0,))) // 12
        return f"{'an octave' if abs(octaves) == 1 else 'two octaves'} {'lower' if octaves < 0 else 'higher'}"
    if part == "inversion":
        known = voicing.inversion is not None and voicing.inversion < len(INVERSIONS)
        return f"in {INVERSIONS[voicing.inversion or 0]}" if known else "with another bass"
    return {
        "frets": "elsewhere on the neck",
        "strings": f"on strings {' '.join(map(str, fingering.strings))}",
        "exact_strings": f"on strings {' '.join(map(str, fingering.strings))}",
        "open_strings": "with open strings",
        "size": f"with {len(fingering.pitches)} notes",
        "without": "with all its tones",
        "hand": "by a large hand",
        "exact": f"as {' '.join(voicing.names)}",
        "kinds": "spaced differently" if voicing.kind == OTHER else f"as a {voicing.kind} voicing",
    }[part]
