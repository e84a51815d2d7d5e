"""Strokes laid on the places of a pattern: what was struck at once, and which place each of that belongs to.

Notes are cut into bursts, each a strum or what was picked at once. Bursts are laid on places in order, each on one that
is not too far away, so that as few as can be are left over; the times of the places are given by the click, or found.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from listener.hearing.events import NoteOn, Stroke, place_of
from listener.music.pattern import DOWN, UP

#: Notes that are farther apart than this are no longer one burst: strings of a strum, voices picked at once (our
#: choices; the simulated player strums over 90 ms at most and picks over 60). It is never more than a share of a place.
_STRUM_GAP_S: Final = 0.1
_PICK_GAP_S: Final = 0.06
_GAP_SHARE: Final = 0.45
#: A burst belongs to a place that is at most this share of a place away (our choice).
_NEAR_SHARE: Final = 0.75
#: What one that goes the wrong way or has the wrong voices is worth less, where two places are in question: one that is
#: in time is worth 2 (our choice: time says more than either).
_DOUBT: Final = 0.4
#: Without a click: what a tempo that is twice or half the expected one costs, and tempos so near each other that trying
#: one of them is enough (our choices).
_TEMPO_COST: Final = 0.5
_SAME_TEMPO: Final = 1.03
#: A strum's direction is told by at least so many strings over at least this time, when so large a share of their pairs
#: more go one way than the other (our choices).
_LEAST_STRINGS: Final = 3
_LEAST_SPREAD_S: Final = 0.006
_CLEAR_SHARE: Final = 0.6


@dataclass(frozen=True, slots=True)
class Burst:
    """What was struck at once: notes in order of onset, at least one."""

    notes: tuple[NoteOn, ...]

    @property
    def onset_s(self) -> float:
        """Time of the first note."""
        return self.notes[0].time_s

    @property
    def direction(self) -> str | None:
        """Which way a strum went; None where it cannot be told."""
        known = [note for note in self.notes if note.string is not None]
        if len(known) < _LEAST_STRINGS or known[-1].time_s - known[0].time_s < _LEAST_SPREAD_S:
            return None
        pairs = [(one, two) for number, one in enumerate(known) for two in known[number + 1 :]]
        down = sum(_falls(one, two) for one, two in pairs if one.time_s < two.time_s)
        if abs(down) < _CLEAR_SHARE * len(pairs):
            return None
        return DOWN if down > 0 else UP


def _falls(one: NoteOn, two: NoteOn) -> int:
    """1 where the second note is on a higher string, -1 on a lower one (string 1 is the highest)."""
    return ((one.string or 0) > (two.string or 0)) - ((one.string or 0) < (two.string or 0))


def bursts(strokes: Sequence[Stroke], place_s: float | None, *, strummed: bool) -> list[Burst]:
    """All struck notes, cut where there is a gap; ``place_s`` is the length of a place where it is known.

    A string (or pitch) that comes again begins something new, too: where the gaps since it came are widest.
    """
    gap_s = _STRUM_GAP_S if strummed else _PICK_GAP_S
    gap_s = gap_s if place_s is None else min(gap_s, _GAP_SHARE * place_s)
    found: list[Burst] = []
    now: list[NoteOn] = []
    for note in sorted((note for stroke in strokes for note in stroke.struck), key=lambda note: note.time_s):
        if now and note.time_s - now[-1].time_s > gap_s:
            found.append(Burst(tuple(now)))
            now = []
        before = next((index for index, one in enumerate(now) if place_of(one) == place_of(note)), None)
        if before is not None:
            gaps = [two.time_s - one.time_s for one, two in pairwise([*now[before:], note])]
            cut = before + 1 + gaps.index(max(gaps))
            found.append(Burst(tuple(now[:cut])))
            now = now[cut:]
        now.append(note)
    return [*found, Burst(tuple(now))] if now else found


@dataclass(frozen=True, slots=True)
class Laid:
    """Bursts on places, as pairs (place, burst) in order of time; ``times_s`` is when the places fall.

    Only the first ``count`` bursts were looked at. ``gain`` compares ways to lay the same bursts: 0 when all lies
    exactly in time and nothing is left over, 1 less for each place and each burst that is.
    """

    pairs: tuple[tuple[int, int], ...]
    times_s: tuple[float, ...]
    count: int
    gain: float = 0.0


#: Whether a burst (its index) would be doubtful on a place: the wrong way, or other voices.
Doubt = Callable[[int, int], bool]


def laid_on_click(
    found: Sequence[Burst], starts: Sequence[float], place_beats: float, due_s: float, beat_s: float, doubt: Doubt
) -> Laid:
    """Laid on places that begin so many beats (``starts``) after ``due_s``; a place lasts ``place_beats``."""
    times = tuple(due_s + start * beat_s for start in starts)
    return _laid([burst.onset_s for burst in found], times, place_beats * beat_s, doubt)


def laid_at_own_pace(
    found: Sequence[Burst], starts: Sequence[float], place_beats: float, guess_s: float | None, doubt: Doubt
) -> Laid:
    """The first burst on the first place, the others at the tempo that explains most; ``guess_s`` is how long a beat is
    expected to be. What comes after the last place is a second time through and not looked at."""
    onsets = [burst.onset_s for burst in found]

    def first_time_through(beat_s: float) -> Laid:
        times = tuple(onsets[0] + (start - starts[0]) * beat_s for start in starts)
        count = bisect_right(onsets, times[-1] + _NEAR_SHARE * place_beats * beat_s)
        return _laid(onsets[:count], times, place_beats * beat_s, doubt)

    def worth(tried: tuple[float, Laid]) -> float:
        away = 1.0 if guess_s is None else max(tried[0], guess_s) / min(tried[0], guess_s)
        return tried[1].gain - _TEMPO_COST * (away - 1)

    tried = [(beat_s, first_time_through(beat_s)) for beat_s in _tempos(onsets, starts, guess_s)]
    return _evened(max(tried, key=worth)[1], onsets, starts)


def _tempos(onsets: Sequence[float], starts: Sequence[float], guess_s: float | None) -> list[float]:
    """Seconds a beat that a gap between neighbouring bursts may mean: from a place to the next, or the next but one."""
    beats = {two - one for one, two in [*pairwise(starts), *zip(starts, starts[2:], strict=False)]}
    tried = sorted((two - one) / beat for one, two in pairwise(onsets) for beat in beats if two > one)
    found: list[float] = []
    for beat_s in tried:
        if not found or beat_s / found[-1] > _SAME_TEMPO:
            found.append(beat_s)
    return [*found, *([guess_s] if guess_s is not None else [])] or [1.0]


def _evened(laid: Laid, onsets: Sequence[float], starts: Sequence[float]) -> Laid:
    """The places where a steady beat through the played ones (least squares) has them."""
    if len(laid.pairs) < 2:
        return laid
    beats, heard = [starts[place] for place, _ in laid.pairs], [onsets[burst] for _, burst in laid.pairs]
    beat, middle = sum(beats) / len(beats), sum(heard) / len(heard)
    across = sum((one - beat) ** 2 for one in beats)
    beat_s = sum((one - beat) * (on - middle) for one, on in zip(beats, heard, strict=True)) / across
    return replace(laid, times_s=tuple(middle + (start - beat) * beat_s for start in starts))


def _laid(onsets: Sequence[float], times: tuple[float, ...], place_s: float, doubt: Doubt) -> Laid:
    """The best way. ``best[n]`` is the most that the first n places can gain, ``last[n]`` the link that does."""
    best, last = [0.0] * (len(times) + 1), [-1] * (len(times) + 1)
    links: list[tuple[int, int, int]] = []
    for number, onset_s in enumerate(onsets):
        first = bisect_left(times, onset_s - _NEAR_SHARE * place_s)
        behind = bisect_right(times, onset_s + _NEAR_SHARE * place_s)
        before = [(best[place], last[place]) for place in range(first, behind)]
        for place, (gained, link) in enumerate(before, start=first):
            away = (onset_s - times[place]) / place_s
            gain = gained + 2 - 2 * away * away - _DOUBT * doubt(place, number)
            links.append((place, number, link))
            end = place + 1
            while end < len(best) and best[end] < gain:
                best[end], last[end] = gain, len(links) - 1
                end += 1
    pairs: list[tuple[int, int]] = []
    link = last[-1]
    while link >= 0:
        place, number, link = links[link]
        pairs.append((place, number))
    return Laid(tuple(reversed(pairs)), times, len(onsets), best[-1] - len(onsets) - len(times))
