"""How a chord was touched: which voices were held to the change, which was the loudest, how evenly it was rolled.

Asked of a chord that was right when the player left it. It changes no verdict.

- *Held or let go*: where a voice ends against the next chord's first string. The time between is the key detached time
  of articulation studies (B. Repp, JASA 97, 1995 and JASA 102, 1997; R. Bresin and G. Battel, Journal of New Music
  Research 29, 2000, set it against the time from onset to onset; all from memory): a hand has to leave the strings to
  reach the next chord, so up to :data:`TOLERANCE_MS` of it, or a quarter of a shorter chord, are held.
- *What no hand let go is not called so.* An open string stays open until it is damped. A note shorter than
  :data:`MUTED_S` was muted, or dropped by the pickup. A string that was used for another note was not let go. And
  strings die away: what ended by itself after :data:`RINGS_S` or more may have done that, unless all fingers left at
  once. So late in the chord's time it is only *alone*, for :mod:`listener.judging.touch.account` to believe or not.
- *The top voice against the inner ones* is a matter of rank, never of amounts: how a pickup makes velocities of strings
  is not known, but a louder one is not smaller than a softer one. Of a voice that was struck several times it is the
  median; where all voices are alike the velocities say nothing.
- *Evenness of a roll*: the times from string to string, as their coefficient of variation (standard deviation by mean:
  the spread of inter-onset intervals by which scales are measured, H.-C. Jabusch and others, Movement Disorders 19,
  2004, from memory; here set against their mean so that slow and fast rolls can be compared).

Whole milliseconds and thousandths, so that adding up is exact.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isqrt
from typing import Final, NamedTuple

from listener.drill.drill import BALANCE_TOP
from listener.hearing.rings import Ring
from listener.planning.plan import PlannedStep

#: So long before the change a voice may end and still count as held (our choice: a hand needs that to come over).
TOLERANCE_MS: Final = 150
#: ... and no more than this part of the chord's time.
_TOLERANCE_PART: Final = 4
#: What is shorter was muted or dropped (our choice; a pickup's mistakes are shorter still).
MUTED_S: Final = 0.15
#: Every string that is not stopped rings so long (our choice; high notes on a dry guitar hardly do).
RINGS_S: Final = 0.7
#: Fingers that leave together leave within this time (our choice: the notes of a plucked chord were measured to end
#: over 57 ms in the middle, in one take of GuitarSet, Xi et al., ISMIR 2018, CC BY 4.0).
_TOGETHER_S: Final = 0.12
#: So many are a hand that leaves, whenever that is.
_HAND: Final = 3
#: A note that begins so soon after another on its string ended has taken the string (our choice).
_TAKEN_S: Final = 0.03
#: What ends alone in this part of the chord's time, counted from the change, may have been let go (our choice).
_LATE_PART: Final = 3
#: Nobody holds a chord for longer (our choice: longer than most strings ring).
_LONGEST_S: Final = 10.0
#: From this spread on, and with so many strings, one can tell how even a roll is: below, a pickup's own delays, some
#: 10 ms from string to string, are too much of it (our choice; the program calls a chord rolled from here on).
_ROLL_S: Final = 0.15
_ROLL_NOTES: Final = 4
#: Strings of a roll follow each other so fast, but for arpeggios (as in :mod:`listener.judging.attempts`).
_ROLL_GAP_S: Final = 0.25

HELD: Final = "held"
LET_GO: Final = "let go"
ALONE: Final = "alone"
MUTED: Final = "muted"
UNKNOWN: Final = "unknown"
_NOT_KNOWN: Final = (UNKNOWN, None)
_HELD: Final = (HELD, None)


class VoiceTouch(NamedTuple):
    """One voice: its pitch (MIDI) and degree in its chord (empty where it has none there); ``velocity`` None where it
    only rang on. ``early_ms`` is how long before the change it ended, where that is more than a moment. ``stays``: it
    rang on into the next chord, so no finger had to leave it."""

    pitch: int
    degree: str
    velocity: int | None
    state: str = UNKNOWN
    early_ms: int | None = None
    open: bool = False
    stays: bool = False

    def as_json(self) -> dict[str, object]:
        """All but whether it was open or stayed; that is the plan's to say."""
        return {
            "pitch": self.pitch,
            "degree": self.degree or None,
            "velocity": self.velocity,
            "state": self.state,
            "early_ms": self.early_ms,
        }


@dataclass(frozen=True, slots=True)
class StepTouch:
    """One chord that was left. ``voices`` low to high; ``chord_ms`` from its first string to the change, None where
    nothing followed; ``beat_ms`` the length of a beat then. ``loudness`` is the median of the velocities, None where
    nothing was struck. ``uneven`` is the roll's coefficient of variation in thousandths, None for no roll."""

    step: int
    voices: tuple[VoiceTouch, ...]
    chord_ms: int | None = None
    beat_ms: int = 0
    loudness: int | None = None
    uneven: int | None = None

    @property
    def judged(self) -> tuple[VoiceTouch, ...]:
        """The voices of which it is known whether a finger held them: no open strings."""
        return tuple(one for one in self.voices if one.state in (HELD, LET_GO) and not one.open)

    @property
    def muted(self) -> bool:
        """The chord was stopped as soon as it had sounded."""
        return any(one.state == MUTED for one in self.voices)

    def stands_out(self, which: str = BALANCE_TOP) -> int | None:
        """1 where the top voice (or the bottom one) is louder than every inner one, -1 where it is softer than every
        one, 0 between; None where velocities say nothing. Of two voices the other is the inner one."""
        inner = self.voices[1:-1] or (self.voices[:1] if which == BALANCE_TOP else self.voices[1:])
        own = self.voices[-1 if which == BALANCE_TOP else 0].velocity if len(self.voices) > 1 else None
        others = [one.velocity for one in inner if one.velocity is not None]
        if own is None or not others or {own} == set(others):
            return None
        return (own > max(others)) - (own < min(others))

    def as_json(self) -> dict[str, object]:
        """All of it, with the rank of the top voice."""
        return {
            "step": self.step,
            "chord_ms": self.chord_ms,
            "voices": [one.as_json() for one in self.voices],
            "top": self.stands_out(),
            "uneven": None if self.uneven is None else self.uneven / 1000,
        }


@dataclass(frozen=True, slots=True)
class Visited:
    """When a chord was there, in seconds: from its first string to the first of the next (``change_s``, None where
    nothing followed); ``over_s`` is when something else was first played above it, ``stays`` are the pitches (MIDI)
    that rang on into the next chord. ``beat_s`` is the length of a beat."""

    from_s: float
    change_s: float | None
    beat_s: float
    over_s: float = inf
    stays: Collection[int] = ()


def step_touch(
    planned: PlannedStep,
    heard: Sequence[int],
    rings: Sequence[Ring],
    visited: Visited,
    *,
    opens: Sequence[int],
    arpeggio: bool = False,
) -> StepTouch:
    """How the chord ``heard`` (MIDI, low to high) was touched. ``rings`` are the notes that were plucked before the
    change, oldest first; ``opens`` the open strings' pitches, string 1 first."""
    from_s, change_s = visited.from_s, visited.change_s
    last: dict[int, Ring] = {}
    velocities: dict[int, list[int]] = {pitch: [] for pitch in heard}
    firsts_s: dict[int, float] = {}
    for ring in rings:
        pitch = ring.pitch
        if pitch in velocities and ring.end_s > from_s:
            last[pitch] = ring
            if ring.onset_s >= from_s:
                velocities[pitch].append(ring.velocity)
                firsts_s.setdefault(pitch, ring.onset_s)
    open_ones = {pitch for pitch, ring in last.items() if _is_open(planned, ring, opens)}
    states: dict[int, tuple[str, int | None]] = {}
    chord_ms = None
    if change_s is not None:
        chord_ms = _ms(change_s - from_s)
        if change_s - from_s <= _LONGEST_S and not _ends_in_rest(planned):
            states = _states(last, open_ones, rings, visited, chord_ms)
    degrees = dict(zip(planned.voicing.midi, planned.voicing.degrees, strict=True))
    degree_of = planned.voicing.chord.degree_of
    voices = []
    for pitch, struck in velocities.items():
        state, early_ms = states.get(pitch, _NOT_KNOWN)
        degree = degrees.get(pitch) or degree_of(pitch) or ""
        voices.append(
            VoiceTouch(pitch, degree, _middle(struck), state, early_ms, pitch in open_ones, pitch in visited.stays)
        )
    return StepTouch(
        planned.step.index,
        tuple(voices),
        chord_ms,
        _ms(visited.beat_s),
        _middle([one.velocity for one in voices if one.velocity is not None]),
        None if planned.step.pattern is not None else _uneven(firsts_s.values(), arpeggio),
    )


def _middle(velocities: list[int]) -> int | None:
    """The median, of two the louder one: one of them, so that only their order counts."""
    return sorted(velocities)[len(velocities) // 2] if velocities else None


def _states(
    last: dict[int, Ring], open_ones: Collection[int], rings: Sequence[Ring], visited: Visited, chord_ms: int
) -> dict[int, tuple[str, int | None]]:
    """Of each voice that sounded: what became of it, and how long before the change it ended."""
    change_s = visited.change_s
    assert change_s is not None
    tolerance_ms = min(TOLERANCE_MS, chord_ms // _TOLERANCE_PART)
    ends_s = [ring.end_s for pitch, ring in last.items() if pitch not in open_ones]
    found: dict[int, tuple[str, int | None]] = {}
    for pitch, ring in last.items():
        early_ms = _ms(change_s - ring.end_s) if ring.end_s < change_s else 0
        if early_ms <= tolerance_ms:
            found[pitch] = _HELD
        elif pitch in open_ones or ring.end_s >= visited.over_s or _is_taken(ring, rings):
            found[pitch] = (UNKNOWN, early_ms)
        else:
            found[pitch] = (_let_go(ring, ends_s, early_ms, chord_ms), early_ms)
    return found


def _let_go(ring: Ring, ends_s: Sequence[float], early_ms: int, chord_ms: int) -> str:
    """What a voice that ended before its time is called; ``ends_s`` are when all that fingers stop ended."""
    rang_s = ring.end_s - ring.onset_s
    company = sum([abs(end_s - ring.end_s) <= _TOGETHER_S for end_s in ends_s])
    every = company == len(ends_s) > 1
    if rang_s < MUTED_S:
        return MUTED if every else UNKNOWN
    late = early_ms * _LATE_PART <= chord_ms
    # Strings that die away seldom do so at once; nothing that a finger stops may outlast a hand that leaves.
    hand = max(ends_s) - ring.end_s <= _TOGETHER_S and (company >= _HAND or (every and late))
    if rang_s < RINGS_S or hand:
        return LET_GO
    return ALONE if late else UNKNOWN


def _is_open(planned: PlannedStep, ring: Ring, opens: Sequence[int]) -> bool:
    """Whether an open string sounds: by its string where that is known, else as planned, else if it can be one."""
    if ring.string is not None:
        return 0 < ring.string <= len(opens) and opens[ring.string - 1] == ring.pitch
    shape = planned.fingering
    frets = dict(zip(shape.pitches, shape.frets, strict=True))
    return frets[ring.pitch] == 0 if ring.pitch in frets else ring.pitch in opens


def _is_taken(ring: Ring, rings: Sequence[Ring]) -> bool:
    """Whether its string went on with another note."""
    if ring.string is None:
        return False
    others = [one.onset_s for one in rings if one.string == ring.string and one.pitch != ring.pitch]
    return any(abs(onset_s - ring.end_s) <= _TAKEN_S and onset_s > ring.onset_s for onset_s in others)


def _ends_in_rest(planned: PlannedStep) -> bool:
    """Whether the pattern stops the strings after its last stroke."""
    if planned.step.pattern is None:
        return False
    places = [one.place for one in planned.step.placed]
    struck = [number for number, place in enumerate(places) if place.struck]
    return bool(struck) and any(place.rests for place in places[struck[-1] :])


def _uneven(onsets_s: Collection[float], arpeggio: bool) -> int | None:
    """Of the first time through: the coefficient of variation of the waits, in thousandths."""
    if len(onsets_s) < _ROLL_NOTES or max(onsets_s) - min(onsets_s) < _ROLL_S:
        return None
    onsets_ms = sorted(map(_ms, onsets_s))
    waits_ms = [two - one for one, two in pairwise(onsets_ms)]
    if not arpeggio and max(waits_ms) > 1000 * _ROLL_GAP_S:
        return None
    count, total = len(waits_ms), sum(waits_ms)
    # The root of a variance over the mean, in whole numbers: n·Σw² - (Σw)², by (Σw)².
    spread = count * sum(wait * wait for wait in waits_ms) - total * total
    return isqrt(1_000_000 * spread) // total


def _ms(seconds: float) -> int:
    return round(1000 * seconds)
