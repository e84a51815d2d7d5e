"""The harmony of free playing in chord symbols: what a player would write over the music.

:mod:`listener.following.harmony` says which root and which kind of chord govern from which stroke on. Here strokes
under one chord become one name, with what really sounded in it: a seventh or a ninth that was there for long enough,
the tone that lay in the bass, spelled as the key spells it. Where only one tone of a chord sounded, there is no chord.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import inf
from statistics import median
from typing import Final

from listener.following import harmony_prices as prices
from listener.following.harmony import LIVE_S, SECOND, Governed, HarmonyFollower
from listener.following.harmony_prices import Kind
from listener.hearing.events import NoteEvent, Stroke, ticks
from listener.music.chord import Chord, parse_suffix
from listener.music.naming import spell_root
from listener.music.pitch import Tone
from listener.music.quality import Quality, qualities
from listener.music.scale import Key
from listener.tunes.likely_key import likely_key

#: A tone is named when it sounds for this share of the time that the tones of its chord usually do (strings die away),
#: which is taken for a second at least (our own choice): less is a passing tone.
_NAMED: Final = 0.3
#: A bass is named that lies there for more than this share of the time: less is a bass that walks or alternates.
_BASS: Final = 0.5
#: What sounds for less rings over from the chord before (our own choice).
_RINGS_OVER: Final = ticks(0.15)
#: A seventh or sixth that comes so soon after its chord, or in the same bar, is the chord's from its beginning (our own
#: choice): later it is another chord.
_GROWS_S: Final = 1.2
#: What it costs a name to leave a tone unsaid, for each step of rarity (:class:`~listener.music.quality.Quality`), and
#: for each tone that it says and that does not sound.
_UNSAID: Final = 2.0
_RARE: Final = 0.3
_SILENT: Final = 0.2
_MAJOR: Final = parse_suffix("")


@dataclass(frozen=True, slots=True)
class HarmonyChord:
    """A chord and from when on it governs; None where no chord does. Until it is ``settled`` it may still change.

    ``bar`` is the bar in which it begins, from 1 on, where a click ran.
    """

    onset_s: float
    chord: Chord | None
    settled: bool = True
    bar: int | None = None

    @property
    def symbol(self) -> str | None:
        """How it is written."""
        return self.chord.symbol if self.chord is not None else None

    def as_json(self) -> dict[str, object]:
        """A ``harmony`` entry of the ``hear`` contract."""
        return {"onset_s": self.onset_s, "chord": self.symbol}


class Harmony:
    """Notes and strokes in, the chords that govern out; ``over`` are those after which another one came."""

    def __init__(self, hindsight_s: float = LIVE_S) -> None:
        self._follower = HarmonyFollower(hindsight_s)
        #: What governs since the last change; what has sounded in all, and which chords did with their thirds.
        self._open: list[Governed] = []
        self._heard = [0] * 12
        self._key: Key | None = None
        #: The clicks so far: from when on its first bar counts, how long a bar is, and how many bars came before.
        self._bars: list[tuple[float, float, int]] = []
        self._thirds: set[tuple[int | None, Kind | None]] = set()
        self.over: list[HarmonyChord] = []

    def hear(self, notes: Iterable[NoteEvent], strokes: Iterable[Stroke], known_s: float) -> None:
        """Further notes and strokes, as :meth:`listener.following.harmony.HarmonyFollower.hear` takes them."""
        for governed in self._follower.hear(notes, strokes, known_s):
            if self._open and not self._same(self._open, governed):
                self._close()
            self._open.append(governed)
            self._heard = [heard + lasted for heard, lasted in zip(self._heard, governed.sounded, strict=True)]
        if known_s == inf and self._open:
            self._close()

    def rest(self, time_s: float) -> None:
        """Nothing sounds any more from here on, whatever does."""
        self._follower.rest(time_s)

    def click(self, first_beat_s: float, beat_s: float, beats_in_bar: int) -> None:
        """A click runs from here on, as :meth:`listener.following.harmony.HarmonyFollower.click` takes it. Bars are
        counted on from those of the click before."""
        line = self.line
        before = next((chord.bar for chord in reversed(line) if chord.bar is not None), 0)
        self._follower.click(first_beat_s, beat_s, beats_in_bar)
        self._bars.append((first_beat_s - prices.NEAR_BEAT * beat_s, beat_s * beats_in_bar, before))

    @property
    def line(self) -> tuple[HarmonyChord, ...]:
        """All chords so far, the last as it seems now: what is not settled may still change."""
        spans: list[list[Governed]] = []
        for governed in [*self._open, *self._follower.unsettled]:
            if not spans or not self._same(spans[-1], governed):
                spans.append([])
            spans[-1].append(governed)
        line = list(self.over)
        for span in spans:
            _add(line, replace(self._named(span), settled=False))
        return tuple(line)

    def _same(self, span: Sequence[Governed], governed: Governed) -> bool:
        """It goes on under what governed before, with all of its tones or without some; or it says which third that
        has, or soon what else."""
        kind = _kind(span)
        if span[0].root != governed.root or kind is None or governed.kind is None:
            return span[0].root == governed.root
        before, now = set(kind.tones), set(governed.kind.tones)
        return now <= before or not _has_third(span) or (before < now and self._is_soon(span[0], governed))

    def _is_soon(self, one: Governed, other: Governed) -> bool:
        bars = self._bar(one.onset_s), self._bar(other.onset_s)
        return bars[0] == bars[1] if None not in bars else other.onset_s - one.onset_s <= _GROWS_S

    def _close(self) -> None:
        if any(self._heard):
            self._key = likely_key(self._heard)
        _add(self.over, self._named(self._open))
        if _has_third(self._open):
            self._thirds.add((self._open[0].root, _kind(self._open)))
        self._open = []

    def _named(self, span: Sequence[Governed]) -> HarmonyChord:
        known = (span[0].root, _kind(span)) in self._thirds
        onset_s = span[0].onset_s
        return HarmonyChord(onset_s, _chord(span, known, self._key), bar=self._bar(onset_s))

    def _bar(self, onset_s: float) -> int | None:
        """A stroke shortly before a bar belongs to it; one in the count-in to the first."""
        for first_s, bar_s, before in reversed(self._bars):
            if onset_s >= first_s - bar_s:
                return before + 1 + max(0, int((onset_s - first_s) / bar_s))
        return None


def _add(line: list[HarmonyChord], chord: HarmonyChord) -> None:
    """A chord that goes on under the same name is no new one."""
    if not line or line[-1].chord != chord.chord:
        line.append(chord)


def _kind(span: Sequence[Governed]) -> Kind | None:
    """The kind that the strokes of a span belong to: the newest of those with the most tones."""
    return max(
        (one.kind for one in reversed(span) if one.kind is not None), key=lambda kind: len(kind.tones), default=None
    )


def _has_third(span: Sequence[Governed]) -> bool:
    """Whether the third of the chord was heard: more of it than rings over from the chord before."""
    named = ((one, one.root, one.kind) for one in span)
    heard = sum(one.sounded[(root + kind.third) % 12] for one, root, kind in named if root is not None and kind)
    return heard >= _RINGS_OVER


def _chord(span: Sequence[Governed], known: bool, key: Key | None) -> Chord | None:
    """``known``: the chord was there before with its third, so that it need not sound once more. Else root, third and
    fifth are its tones: two of them make a chord."""
    root, kind = span[0].root, _kind(span)
    if root is None or kind is None:
        return None
    sounded = [sum(one.sounded[(root + interval) % 12] for one in span) for interval in range(12)]
    bass = [sum(one.bass[(root + interval) % 12] for one in span) for interval in range(12)]
    whole = sum(bass)
    if sum(sounded[interval] > 0 for interval in (kind.tones if known else kind.tones[:3])) < 2:
        return None
    lowest = max(range(12), key=bass.__getitem__)
    slash = lowest > 0 and bass[lowest] > _BASS * whole
    # A bass that is no tone of the chord is said after the slash, and not once more before it.
    said = {lowest} - set(kind.tones) if slash else set()
    usual = max(SECOND, median(sounded[interval] for interval in kind.tones if sounded[interval]))
    sounding = frozenset(i for i, lasted in enumerate(sounded) if lasted >= _NAMED * usual and i not in said)
    fifths = not known and not sounded[kind.third] and sounding <= {0, 7}
    quality = parse_suffix("5") if fifths else _quality(kind, sounding)
    plain = _shared(_in_key(root, key) or spell_root(root, quality), quality)
    if not slash:
        return plain
    number = (root + lowest) % 12
    return _shared(plain.root, quality, plain.tone_of(number) or _in_key(number, key) or spell_root(number, _MAJOR))


@lru_cache(maxsize=4096)
def _shared(root: Tone, quality: Quality, bass: Tone | None = None) -> Chord:
    """Players come back to their chords: the line of an hour holds each of them once."""
    return Chord(root, quality, bass)


@lru_cache(maxsize=1024)
def _quality(kind: Kind, sounding: frozenset[int]) -> Quality:
    """The quality of the table that says best what sounds, of those that this kind of chord can grow to."""

    def fits(quality: Quality) -> bool:
        if quality.rarity is None or not {0, kind.third, kind.seventh} - {None} <= quality.interval_set:
            return False
        if kind.fifth not in quality.interval_set and (kind.fifth != 7 or 7 in sounding):
            return False
        tones = zip(quality.degrees, quality.intervals, strict=True)
        return all(i in sounding or i in kind.tones or degree in quality.optional for degree, i in tones)

    def price(quality: Quality) -> float:
        unsaid = len(sounding - quality.interval_set)
        silent = len(quality.interval_set - sounding - set(kind.tones))
        return _UNSAID * unsaid + _RARE * (quality.rarity or 0) + _SILENT * silent

    return min(filter(fits, qualities()), key=price)


def _in_key(number: int, key: Key | None) -> Tone | None:
    """The tone of the key on a pitch class."""
    return next((tone for tone in key.tones if tone.pitch_class == number), None) if key is not None else None
