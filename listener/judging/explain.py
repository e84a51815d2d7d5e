"""From edits to faults: the cause and not its consequences, the most useful fault first.

What concerns the whole chord comes first, then the top note (the line that is heard), then the bass, then what lies
between, then strings that only double another, then what is too much. Edits that belong together become one fault: the
right chord in close position, a third that is flat in two octaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.judging.verdict import Fault
from listener.judging.words import ChordWords
from listener.music.voicing import OTHER, inversion_of, kinds_of

_TOP: Final = 0
_BASS: Final = 1
_INNER: Final = 2
_DOUBLING: Final = 3
_EXTRA: Final = 4
#: More moves than this are not listed one by one.
_FEW: Final = 2


@dataclass(frozen=True, slots=True)
class Edits:
    """Planned notes against heard ones: (planned, heard) pairs, planned notes left over, heard notes left over."""

    octaves: tuple[tuple[int, int], ...]
    tones: tuple[tuple[int, int], ...]
    missing: tuple[int, ...]
    extra: tuple[int, ...]


def reshaped(words: ChordWords, planned: tuple[int, ...], played: tuple[int, ...], edits: Edits) -> tuple[Fault, ...]:
    """All tones are there and no other: another spacing, another inversion, a doubling more or less, or a single voice
    in the wrong octave."""
    loose = len(edits.missing) + len(edits.extra)
    if not edits.octaves and loose == 1:
        return _in_order(words, planned, played, edits)
    wanted_kinds = _kinds(words, planned)
    kinds = _kinds(words, played)
    kind = next((one for one in kinds if one not in wanted_kinds and one != OTHER), None)
    turned = inversion_of(words.chord, played[0]) != inversion_of(words.chord, planned[0])
    one_move = len(edits.octaves) == 1 and not loose
    far = one_move and abs(edits.octaves[0][0] - edits.octaves[0][1]) > 12
    faults: list[Fault] = []
    if (kind is None and not edits.octaves) or (kind is not None and far):
        return _in_order(words, planned, played, edits)
    if kind is not None:
        faults.append(words.spacing(kind, _todo(words, planned, edits)))
        if one_move or (not edits.octaves and not edits.extra):
            return tuple(faults)
    elif not turned or kinds == (OTHER,) or not set(kinds) & set(wanted_kinds):
        if len(edits.octaves) + loose <= _FEW:
            return _in_order(words, planned, played, edits)
        faults.append(words.spacing(OTHER, words.the_plan(planned)))
    if turned:
        faults.append(words.inversion(played[0], planned[0]))
    if played[-1] != planned[-1]:
        faults.append(words.top_note(planned[-1], played[-1]))
    return tuple(faults)


def _kinds(words: ChordWords, notes: tuple[int, ...]) -> tuple[str, ...]:
    """The kinds of a voicing, melody notes that are foreign to its chord left out."""
    added = {tone.pitch_class for tone in words.added}
    own = [note for note in notes if words.chord.tone_of(note) is not None or note % 12 not in added]
    return kinds_of(words.chord, own)


def _todo(words: ChordWords, planned: tuple[int, ...], edits: Edits) -> str:
    few = len(edits.octaves) + len(edits.missing) + len(edits.extra) <= _FEW
    if few and not edits.missing and not edits.extra:
        return words.moves(edits.octaves)
    if few and not edits.octaves and not edits.missing:
        return words.leave_out(edits.extra)
    if few and not edits.octaves and not edits.extra:
        return words.add(edits.missing)
    return words.the_plan(planned)


def spoilt(
    words: ChordWords, planned: tuple[int, ...], played: tuple[int, ...], edits: Edits, sounding_shift: int = 0
) -> tuple[Fault, ...]:
    """Some tones are wrong, missing or too many. ``sounding_shift`` is how many semitones higher than ``played`` the
    notes really sounded."""
    return _in_order(words, planned, played, edits, sounding_shift)


def _in_order(
    words: ChordWords, planned: tuple[int, ...], played: tuple[int, ...], edits: Edits, shift: int = 0
) -> tuple[Fault, ...]:
    ranked = _tones(words, planned, played, edits, shift) + _missing(words, planned, played, edits)
    ranked += [(_rank(planned, wanted), words.wrong_octave(wanted, note)) for wanted, note in reversed(edits.octaves)]
    for note in reversed(edits.extra):
        place = "on top" if note == played[-1] else "in the bass" if note == played[0] else ""
        ranked.append((_EXTRA, words.extra(note + shift, place=place)))
    return tuple(fault for _, fault in sorted(ranked, key=lambda entry: entry[0]))


def _rank(planned: tuple[int, ...], note: int) -> int:
    return _TOP if note == planned[-1] else _BASS if note == planned[0] else _INNER


def _tones(
    words: ChordWords, planned: tuple[int, ...], played: tuple[int, ...], edits: Edits, shift: int
) -> list[tuple[int, Fault]]:
    """Wrong tones, high to low; the same slip in several octaves is said once."""
    found: list[tuple[int, Fault]] = []
    said: set[tuple[int, int]] = set()
    below = [pair for pair in edits.tones if pair != (planned[-1], played[-1])]
    for wanted, note in reversed(edits.tones):
        slip = (wanted % 12, note % 12)
        if (wanted, note) not in below:
            found.append((_TOP, words.top_note(wanted, note + shift)))
        elif slip not in said:
            said.add(slip)
            same = [pair[0] for pair in below if (pair[0] % 12, pair[1] % 12) == slip]
            rank = min(_rank(planned, one) for one in same)
            found.append((rank, words.wrong_tone(wanted, note + shift, everywhere=len(same) > 1)))
    return found


def _missing(
    words: ChordWords, planned: tuple[int, ...], played: tuple[int, ...], edits: Edits
) -> list[tuple[int, Fault]]:
    """Missing tones, high to low; one that was planned in several octaves and sounds in none is said once."""
    found: list[tuple[int, Fault]] = []
    sounding = {note % 12 for note in played}
    said: set[int] = set()
    for note in reversed(edits.missing):
        if note % 12 in said:
            continue
        same = [one for one in edits.missing if (one - note) % 12 == 0]
        rank = min(_rank(planned, one) for one in same)
        if len(same) > 1 and note % 12 not in sounding:
            said.add(note % 12)
            found.append((rank, words.missing_everywhere(same)))
            continue
        place = {_TOP: "on top", _BASS: "in the bass"}.get(_rank(planned, note), "")
        second = note % 12 in sounding and note != planned[0]
        rank = _DOUBLING if second else _rank(planned, note)
        found.append((rank, words.missing(note, place=place, second=second)))
    return found
