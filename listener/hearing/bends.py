"""Pitch bends: from wire values to cents, and when a bent note has become another note.

A bend sounds at ``note + cents / 100``. What the player means by that, in semitones:

- **Vibrato is one note.** A note keeps its name until its pitch has arrived at another semitone and stayed there.
- **A slide, a hammer-on or a bend that settles on another semitone is a new note.** Arrived means within
  :data:`ARRIVE` of it; staying means no further than :data:`LEAVE` from it for :data:`SETTLE_S`. That is longer than a
  vibrato of four turns a second or more (4 to 7 are common practice) dwells at its turning point, however wide it is:
  144 ms at the most between coming near and going away, and 10 ms until the pickup says so. The new note is known
  :data:`SETTLE_S` after the pitch arrived, and says when that was: its timing counts from there.
- **The attack is no slide.** A bend in the first :data:`ATTACK_S` of a note is the pickup correcting itself (or
  clearing the bend of the note before), so :data:`ATTACK_SETTLE_S` are enough.
- A note that begins on a bent channel begins at the semitone that it sounds at; between two, at the channel's last one.
"""

from __future__ import annotations

from typing import Final

CENTRE: Final = 8192
#: Of a zone's members (MPE 1.0, read in summaries), in semitones.
MEMBER_RANGE: Final = 48.0

ARRIVE: Final = 0.35
LEAVE: Final = 0.50
SETTLE_S: Final = 0.165
ATTACK_S: Final = 0.030
ATTACK_SETTLE_S: Final = 0.015

_DATA_MSB: Final = 6
_DATA_LSB: Final = 38
_NRPN: Final = frozenset({98, 99})
_RPN_LSB: Final = 100
_RPN_MSB: Final = 101
#: Controllers that :class:`Parameters` wants to see.
PARAMETER_CONTROLLERS: Final = _NRPN | {_DATA_MSB, _DATA_LSB, _RPN_LSB, _RPN_MSB}
BEND_RANGE: Final = 0
ZONE: Final = 6
_NULL: Final = 0x7F


def cents(value: int, range_semitones: float) -> float:
    """What a 14-bit bend value (0 to 16383) means; the highest falls just short of the range (MIDI 1.0).

    >>> cents(8192, 2), cents(0, 2), round(cents(16383, 2), 6)
    (0.0, -200.0, 199.975586)
    """
    return (value - CENTRE) / CENTRE * range_semitones * 100


class Parameters:
    """The registered parameters of one channel: which is chosen, and what data entry makes of it."""

    def __init__(self) -> None:
        self._chosen = [_NULL, _NULL]
        self._data = [0, 0]

    def feed(self, controller: int, value: int) -> tuple[int, float] | None:
        """The parameter that was set, with its value, else None.

        The value of the bend range (:data:`BEND_RANGE`) is in semitones, that of the zone (:data:`ZONE`) in channels.
        The fine half of a value counts from the coarse half on, which sets it to 0.
        """
        if controller in _NRPN:
            self.reset()
        elif controller == _RPN_MSB:
            self._chosen[0] = value
        elif controller == _RPN_LSB:
            self._chosen[1] = value
        elif controller == _DATA_MSB:
            self._data = [value, 0]
            return self._set()
        elif controller == _DATA_LSB:
            self._data[1] = value
            return self._set()
        return None

    def reset(self) -> None:
        """No parameter is chosen: data entry means nothing."""
        self._chosen = [_NULL, _NULL]

    def _set(self) -> tuple[int, float] | None:
        if self._chosen == [0, BEND_RANGE]:
            return BEND_RANGE, self._data[0] + self._data[1] / 100
        if self._chosen == [0, ZONE]:
            return ZONE, float(self._data[0])
        return None


class Shift:
    """By how many whole semitones the bend of one channel moves its notes, with the hysteresis of the module's text."""

    __slots__ = ("_arriving", "arrived_s", "bent", "onset_s", "semitones", "settles_s")

    def __init__(self) -> None:
        self.semitones = 0
        #: The bend itself.
        self.bent = 0.0
        self._arriving: int | None = None
        #: When the pitch will have settled, None while it is not about to.
        self.settles_s: float | None = None
        #: When it arrived where it is about to settle, None while it is not about to.
        self.arrived_s: float | None = None
        #: When the channel's newest note began.
        self.onset_s = float("-inf")

    def begin(self, time_s: float, alone: bool) -> None:
        """A note begins. ``alone``: no other note of the channel sounds, so the channel may be heard afresh."""
        self.onset_s = time_s
        if alone:
            if self._arriving is not None:
                self._stay()
            if self.bent != self.semitones and abs(self.bent - self.semitones) > LEAVE:
                self.semitones = _nearest(self.bent)

    def bend(self, time_s: float, semitones: float, *, sounding: bool) -> None:
        """The channel is bent by so much now."""
        self.bent = semitones
        if self._arriving is not None:
            if sounding and abs(semitones - self._arriving) <= LEAVE:
                return
            self._stay()
        nearest = _nearest(semitones)
        if sounding and nearest != self.semitones and abs(semitones - nearest) <= ARRIVE:
            self._arriving = nearest
            attack = time_s - self.onset_s < ATTACK_S
            self.arrived_s = time_s
            self.settles_s = time_s + (ATTACK_SETTLE_S if attack else SETTLE_S)

    def settle(self) -> None:
        """The time has come: the notes have moved."""
        if self._arriving is not None:
            self.semitones = self._arriving
        self._stay()

    def _stay(self) -> None:
        self._arriving = None
        self.settles_s = self.arrived_s = None


def _nearest(semitones: float) -> int:
    return round(semitones)
