"""A simulated converter: what pitch-to-MIDI hardware makes of plucked strings, its errors included.

Pure and seeded. Every number of :class:`Converter` says how far it can be trusted. *Measured* means: in one take of
GuitarSet (Xi, Bittner, Pauwels, Ye, Bello, ISMIR 2018, CC BY 4.0; 03_BN3-119-G_comp, 199 notes). *Published* names
where. *Common practice* is what players of such pickups describe. *Assumed* means that nothing better was found: no
published rates of a converter's errors were.

The errors, in the order in which :func:`convert` makes them:

==================  =================================================================================================
never sent          the pluck is not noticed at all
octave up           the note is sent an octave high for all its length (locked on to a harmonic)
attack ghost        first a soft short harmonic (octave or twelfth), then the note
semitone glitch     first a neighbouring semitone at full velocity, then the note
double trigger      the note, and once more, softer, while the string was plucked once
dies early          the end of the note is sent while the string still sounds
rings over          the end of the note is sent long after the string was damped
sympathetic ghost   a soft short note on an idle neighbouring string: an octave or a twelfth up, or that string open
release ghost       a soft short note of the open string when a finger leaves it
==================  =================================================================================================

Where strings are not told apart no ghost sounds a pitch that sounds already: such a stream has one voice for a pitch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Any, Final

from listener.errors import SourceError
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import Pickup
from listener.music.pitch import frequency_hz
from listener.simulation.chance import ANSWERED, BENT, LET_GO, PLUCKED, Chance
from listener.simulation.player import Pluck

NEVER_SENT: Final = "never sent"
OCTAVE_UP: Final = "octave up"
ATTACK_GHOST: Final = "attack ghost"
SEMITONE_GLITCH: Final = "semitone glitch"
DOUBLE_TRIGGER: Final = "double trigger"
DIES_EARLY: Final = "dies early"
RINGS_OVER: Final = "rings over"
SYMPATHETIC_GHOST: Final = "sympathetic ghost"
RELEASE_GHOST: Final = "release ghost"
ARTEFACTS: Final = (
    NEVER_SENT, OCTAVE_UP, ATTACK_GHOST, SEMITONE_GLITCH, DOUBLE_TRIGGER, DIES_EARLY, RINGS_OVER, SYMPATHETIC_GHOST,
    RELEASE_GHOST,
)  # fmt: skip

#: How many times as often everything goes wrong, by the name that the user gives (our choice).
HARDNESS: Final = {"none": 0.0, "typical": 1.0, "hard": 3.0}
_HARMONICS: Final = (12, 12, 19)
_BEND_CENTRE: Final = 8192
_RELEASE_VELOCITY: Final = 64
_MS: Final = 0.001


@dataclass(frozen=True)
class Converter:
    """Shares are of plucked notes; ranges are uniform, in ms or MIDI velocity."""

    # Shares (all assumed; twice that an octave or a twelfth is heard is what published work warns of without rates:
    # Derrien, DAFx 2014, abstract, on ghost notes)
    attack_ghost: float = 0.015
    sympathetic_ghost: float = 0.02
    release_ghost: float = 0.03
    double_trigger: float = 0.02
    semitone_glitch: float = 0.02
    octave_up: float = 0.005
    never_sent: float = 0.005
    dies_early: float = 0.005
    rings_over: float = 0.005
    # How long and how loud (assumed)
    attack_ghost_ms: tuple[float, float] = (12.0, 35.0)
    attack_ghost_velocity: tuple[int, int] = (8, 35)
    sympathetic_ghost_ms: tuple[float, float] = (10.0, 40.0)
    sympathetic_ghost_velocity: tuple[int, int] = (5, 28)
    release_ghost_ms: tuple[float, float] = (15.0, 40.0)
    release_ghost_velocity: tuple[int, int] = (5, 30)
    double_trigger_ms: tuple[float, float] = (18.0, 60.0)
    double_trigger_loudness: tuple[float, float] = (0.4, 0.8)
    semitone_glitch_ms: tuple[float, float] = (8.0, 30.0)
    dies_early_ms: tuple[float, float] = (80.0, 400.0)
    rings_over_mean_ms: float = 300.0
    #: Delay: the profile's periods (published: Fonseca & Tavares, RITA 27(4), 2020, abstract) times this (assumed),
    #: and so much for computing and sending, with a half-normal tail (assumed).
    period_share: tuple[float, float] = (0.85, 1.25)
    sending_ms: float = 3.0
    sending_sd_ms: float = 1.5
    #: The end of a note comes late by an exponential (assumed).
    late_off_mean_ms: float = 15.0
    #: Bends (all measured): a note's tuning, its wander, messages a second while it sounds, notes with a slide or
    #: bend past 25 cents. How far those go is assumed. 0 bends a second sends none.
    tuning_cents: float = 11.0
    tuning_sd_cents: float = 9.0
    wander_sd_cents: float = 8.0
    bends_per_s: float = 34.0
    slide_share: float = 0.025
    slide_cents: float = 40.0


def _as_often(factor: float) -> Converter:
    """Every error so many times as often as usual. The share of an error is the field that has its name."""
    usual = Converter()
    names = [error.replace(" ", "_") for error in ARTEFACTS]
    shares: dict[str, Any] = {name: factor * getattr(usual, name) for name in names}
    return replace(usual, **shares)


#: Nothing goes wrong and nothing is bent; only delays are left.
FAULTLESS: Final = replace(_as_often(0), bends_per_s=0)


def make_converter(name: str) -> Converter:
    """``none``, ``typical`` or ``hard`` (every error three times as often); :class:`SourceError` for others."""
    factor = HARDNESS.get(name)
    if factor is None:
        raise SourceError(f"there are no pickup errors '{name}'; choose one of {', '.join(HARDNESS)}")
    return _as_often(factor) if factor else FAULTLESS


@dataclass(frozen=True, slots=True)
class Sent:
    """What became of one pluck: the pitch that was sent (None: nothing was), when its note-on (or the first of them)
    and its note-off went out, and which errors befell it."""

    pitch: int | None
    on_s: float
    artefacts: tuple[str, ...] = ()
    off_s: float = 0.0


@dataclass(slots=True)
class _Note:
    """One note on the wire. ``pluck`` is its pluck's number, None for ghosts of no pluck."""

    string: int
    pitch: int
    velocity: int
    on_s: float
    off_s: float
    pluck: int | None = None
    channel: int = 0
    ghost: bool = False


def convert(
    plucks: Sequence[Pluck], pickup: Pickup, random: Random | Chance, converter: Converter, open_strings: Sequence[int]
) -> tuple[tuple[Message, ...], tuple[Sent, ...]]:
    """The messages, on the take's grid and in order, and what became of each pluck.

    ``plucks`` in order of onset; ``open_strings`` are MIDI notes, string 1 first.
    """
    chance = Chance(random) if isinstance(random, Random) else random
    making = _Making(pickup, chance, converter, open_strings)
    for number, pluck in enumerate(plucks):
        making.pluck(number, pluck)
    making.sympathise(plucks)
    making.let_go(plucks)
    notes = making.one_voice_each()
    _hand_out_channels(notes, pickup)
    ends = {note.pluck: note.off_s for note in notes}
    fates = tuple(replace(fate, off_s=ends.get(number, fate.on_s)) for number, fate in enumerate(making.sent))
    messages = [
        entry
        for number, note in enumerate(notes)
        for entry in _messages(note, pickup, chance.about(BENT, number), converter)
    ]
    messages.sort(key=lambda entry: (entry[0], entry[1], entry[2].data))
    return tuple(message for _, _, message in messages), fates


class _Making:
    """Notes on the wire, string by string."""

    def __init__(self, pickup: Pickup, chance: Chance, converter: Converter, open_strings: Sequence[int]) -> None:
        self._pickup = pickup
        self._chance = chance
        self._converter = converter
        self._open = open_strings
        self.notes: list[_Note] = []
        self.sent: list[Sent] = []

    def pluck(self, number: int, pluck: Pluck) -> None:
        """One pluck with what the converter does to it."""
        random, converter = self._chance.about(PLUCKED, number), self._converter
        on_s = pluck.onset_s + self._delay_s(pluck.pitch, random)
        off_s = pluck.end_s + random.expovariate(1.0) * converter.late_off_mean_ms * _MS
        if random.random() < converter.never_sent:
            self.sent.append(Sent(None, on_s, (NEVER_SENT,)))
            return
        note = _Note(pluck.string, pluck.pitch, pluck.velocity, on_s, off_s, number)
        found: list[str] = []
        if random.random() < converter.octave_up and note.pitch + 12 <= 127:
            note.pitch += 12
            found.append(OCTAVE_UP)
        elif random.random() < converter.attack_ghost:
            away = random.choice(_HARMONICS)
            self._before(note, away, converter.attack_ghost_ms, converter.attack_ghost_velocity, random)
            found.append(ATTACK_GHOST)
        elif random.random() < converter.semitone_glitch:
            away = random.choice((-1, 1))
            self._before(note, away, converter.semitone_glitch_ms, (note.velocity, note.velocity), random)
            found.append(SEMITONE_GLITCH)
        elif random.random() < converter.double_trigger:
            found.append(DOUBLE_TRIGGER)
        self._end(note, pluck, found, random)
        self.notes.append(note)
        if DOUBLE_TRIGGER in found:
            again_s = note.on_s + random.uniform(*converter.double_trigger_ms) * _MS
            softer = max(1, round(note.velocity * random.uniform(*converter.double_trigger_loudness)))
            self.notes.append(replace(note, velocity=softer, on_s=again_s, off_s=max(note.off_s, again_s + 0.02)))
        self.sent.append(Sent(note.pitch, on_s, tuple(found)))

    def _before(
        self, note: _Note, away: int, lasts_ms: tuple[float, float], loudness: tuple[int, int], random: Random
    ) -> None:
        """Another pitch first; the note itself only when that is over."""
        until_s = note.on_s + random.uniform(*lasts_ms) * _MS
        pitch = note.pitch + away if note.pitch + away <= 127 else note.pitch - 1
        self.notes.append(_Note(note.string, pitch, random.randint(*loudness), note.on_s, until_s, note.pluck,
                                ghost=abs(away) > 2))  # fmt: skip
        note.on_s = until_s

    def _end(self, note: _Note, pluck: Pluck, found: list[str], random: Random) -> None:
        converter = self._converter
        drawn = random.random()
        if drawn < converter.dies_early:
            early_s = note.on_s + random.uniform(*converter.dies_early_ms) * _MS
            if early_s < note.off_s:
                note.off_s = early_s
                found.append(DIES_EARLY)
        elif drawn < converter.dies_early + converter.rings_over and pluck.end_s < pluck.dies_s:
            note.off_s += random.expovariate(1.0) * converter.rings_over_mean_ms * _MS
            found.append(RINGS_OVER)
        note.off_s = max(note.off_s, note.on_s + 0.01)

    def _delay_s(self, pitch: int, random: Random) -> float:
        converter = self._converter
        periods_s = self._pickup.delay_periods / frequency_hz(pitch) * random.uniform(*converter.period_share)
        return periods_s + (converter.sending_ms + abs(random.gauss(0.0, converter.sending_sd_ms))) * _MS

    def sympathise(self, plucks: Sequence[Pluck]) -> None:
        """Neighbours of plucked strings that answer."""
        converter = self._converter
        if not converter.sympathetic_ghost:
            return
        busy: dict[int, list[_Note]] = {}
        for note in self.notes:
            busy.setdefault(note.string, []).append(note)
        for number, pluck in enumerate(plucks):
            random = self._chance.about(ANSWERED, number)
            if random.random() >= converter.sympathetic_ghost:
                continue
            string = pluck.string + random.choice((-1, 1))
            on_s = pluck.onset_s + self._delay_s(pluck.pitch, random) + random.uniform(0.0, 0.02)
            if not 1 <= string <= len(self._open):
                continue
            if any(note.on_s < on_s < note.off_s for note in busy.get(string, ())):
                continue
            pitch = random.choice([*(pluck.pitch + up for up in _HARMONICS), self._open[string - 1]])
            self._ghost(string, min(127, pitch), on_s, converter.sympathetic_ghost_ms,
                        converter.sympathetic_ghost_velocity, random)  # fmt: skip

    def let_go(self, plucks: Sequence[Pluck]) -> None:
        """Open strings that speak when a finger leaves them."""
        converter = self._converter
        for number, pluck in enumerate(plucks):
            random = self._chance.about(LET_GO, number)
            open_pitch = self._open[pluck.string - 1]
            released = pluck.end_s < pluck.dies_s and pluck.pitch != open_pitch
            if released and random.random() < converter.release_ghost:
                on_s = pluck.end_s + random.uniform(0.0, 0.01)
                self._ghost(pluck.string, open_pitch, on_s, converter.release_ghost_ms,
                            converter.release_ghost_velocity, random)  # fmt: skip

    def _ghost(
        self, string: int, pitch: int, on_s: float, lasts_ms: tuple[float, float], loudness: tuple[int, int],
        random: Random,
    ) -> None:  # fmt: skip
        off_s = on_s + random.uniform(*lasts_ms) * _MS
        self.notes.append(_Note(string, pitch, random.randint(*loudness), on_s, off_s, ghost=True))

    def one_voice_each(self) -> list[_Note]:
        """On a string (or for a pitch, where strings are not told apart) a note ends when the next one begins."""
        voices: dict[int, list[_Note]] = {}
        strings = self._pickup.tells_strings
        for note in sorted(self.notes, key=lambda note: (note.on_s, note.ghost)):
            voice = voices.setdefault(note.string if strings else note.pitch, [])
            last = voice[-1] if voice else None
            if last is not None and last.off_s > note.on_s:
                if note.ghost and not strings:
                    continue
                last.off_s = note.on_s
            voice.append(note)
        return sorted((note for voice in voices.values() for note in voice), key=lambda note: note.on_s)


def _hand_out_channels(notes: Sequence[_Note], pickup: Pickup) -> None:
    """A string's own channel, or the channels in turn."""
    channels = pickup.channels
    for number, note in enumerate(notes):
        if pickup.tells_strings:
            note.channel = pickup.channel_of(note.string) - 1
        else:
            note.channel = channels[number % len(channels)] - 1


def _messages(note: _Note, pickup: Pickup, random: Random, converter: Converter) -> list[tuple[float, int, Message]]:
    """With their times and their order at equal times: ends, bends, begins."""
    on_s, off_s = on_grid(note.on_s), on_grid(note.off_s)
    if off_s <= on_s:
        return []
    found = [
        (off_s, 0, Message(off_s, (0x80 | note.channel, note.pitch, _RELEASE_VELOCITY))),
        (on_s, 2, Message(on_s, (0x90 | note.channel, note.pitch, note.velocity))),
    ]
    bent_alone = pickup.tells_strings or len(pickup.channels) > 1
    if converter.bends_per_s and bent_alone and note.pluck is not None:
        found += [(at_s, 1, message) for at_s, message in _bends(note, pickup, random, converter)]
    return found


def _bends(note: _Note, pickup: Pickup, random: Random, converter: Converter) -> list[tuple[float, Message]]:
    """The note's tuning, its wander, and now and then a slide there and back."""
    tuning = random.gauss(converter.tuning_cents, converter.tuning_sd_cents)
    slide = converter.slide_cents if random.random() < converter.slide_share else 0.0
    found = []
    at_s = note.on_s
    while at_s < note.off_s - 0.002:
        share = (at_s - note.on_s) / (note.off_s - note.on_s)
        cents = tuning + random.gauss(0.0, converter.wander_sd_cents / 2) + slide * math.sin(math.pi * share)
        wire = round(_BEND_CENTRE + max(-49.0, min(49.0, cents)) / 100 / pickup.bend_range_semitones * _BEND_CENTRE)
        time_s = on_grid(at_s)
        found.append((time_s, Message(time_s, (0xE0 | note.channel, wire & 0x7F, wire >> 7 & 0x7F))))
        at_s += random.expovariate(converter.bends_per_s)
    return found
