"""Two hands on a guitar: which strings sound, since when and how long."""

from __future__ import annotations

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass
from random import Random
from typing import Final, NamedTuple

from lab.people.person import Person
from listener.simulation.player import Pluck
from listener.simulation.slips import Place

#: What is held over must ring this long beyond the moment when the chord is complete, as for the program's own
#: simulated player.
BREATH_S: Final = 0.25
_LEAST_S: Final = 0.05


class Sound(NamedTuple):
    """One string of a gesture, so long after it began. ``counts`` is False for a tone that only leads to another one;
    ``softness`` lowers the velocity (a tone that is hammered on is softer than a plucked one)."""

    place: Place
    delay_s: float
    counts: bool = True
    softness: int = 0


@dataclass(slots=True, eq=False)
class Plucked(Pluck):
    """A pluck and what it was for: ``visit`` counts the player's visits to steps (None away from all of them),
    ``attempt`` is the number of the attempt that it belongs to (None: it is none), ``counts`` whether that attempt is
    judged by it, and ``doing`` the word for it."""

    doing: str = ""
    visit: int | None = None
    attempt: int | None = None
    counts: bool = False


class Hands:
    """Plucks in the order in which they are made; what rings; what the left hand lets go."""

    def __init__(self, open_strings: Sequence[int], person: Person, random: Random) -> None:
        self.open_strings = tuple(open_strings)
        self.person = person
        self._random = random
        self.plucks: list[Plucked] = []
        self._last: dict[int, Plucked] = {}

    def ringing(self, at_s: float) -> list[Plucked]:
        """Strings that sound then."""
        return [p for p in self._last.values() if p.onset_s < at_s < min(p.end_s, p.dies_s)]

    def still_ringing(self, at_s: float) -> list[Plucked]:
        """Strings that sounded until shortly before."""
        return [p for p in self._last.values() if p.onset_s < at_s < min(p.end_s, p.dies_s) + 0.35]

    def change_to(
        self, sounds: Sequence[Sound], at_s: float, chord: Sequence[Place], *, may_hold: Set[Place], may_ring: bool
    ) -> list[Sound]:
        """Leave what rings for a chord that begins at ``at_s`` with these sounds: what is left to pluck when common
        tones (of ``may_hold``) are held over, the first of it without delay."""
        random, release = self._random, self.person.release
        done_s = at_s + max(sound.delay_s for sound in sounds)
        fingered = {string: pitch for string, _, pitch in chord}
        held = self._held_over(sounds, at_s, done_s, may_hold)
        keeps = random.random() < release.keep_share and may_ring
        lift_s = random.uniform(*release.lift_s)
        for last in self.still_ringing(at_s):
            if last.string in held:
                continue
            if keeps and fingered.get(last.string, last.pitch) == last.pitch:
                self._end(last, at_s + random.uniform(*release.keep_s))
            else:
                self._end(last, at_s - max(0.005, lift_s - min(0.07, random.expovariate(1 / 0.02))))
        left = [sound for sound in sounds if sound.place[0] not in held]
        first_s = min(sound.delay_s for sound in left)
        return [sound._replace(delay_s=sound.delay_s - first_s) for sound in left]

    def _held_over(self, sounds: Sequence[Sound], at_s: float, done_s: float, may_hold: Set[Place]) -> set[int]:
        """Strings that are not plucked again: never all of them."""
        if self.person.release.length_s is not None:
            return set()
        whole = {(sound.place[0], sound.place[2]) for sound in sounds if sound.counts}
        wanted = whole & {(string, pitch) for string, _, pitch in may_hold}
        grace = {sound.place[0] for sound in sounds if not sound.counts}
        common = {
            p.string
            for p in self.ringing(at_s)
            if (p.string, p.pitch) in wanted and p.string not in grace and min(p.dies_s, p.end_s) > done_s + BREATH_S
        }
        if len(common) == len(whole) or not common or self._random.random() >= self.person.player.hold_share:
            return set()
        return common

    def strike(self, sounds: Sequence[Sound], at_s: float, doing: str) -> list[Plucked]:
        """Pluck these strings; what sounded on them ends."""
        random, player = self._random, self.person.player
        loudness = random.gauss(player.velocity, player.velocity_sd)
        made = []
        for (string, _, pitch), delay_s, counts, softness in sounds:
            velocity = round(random.gauss(loudness, player.note_velocity_sd)) - softness
            ring_s = random.lognormvariate(math.log(player.ring_s[string > 3]), player.ring_sigma)
            onset_s = at_s + delay_s
            pluck = Plucked(
                string, pitch, min(127, max(25, velocity)), onset_s, onset_s + ring_s, doing=doing, counts=counts
            )
            made.append(pluck)
        made.sort(key=lambda pluck: pluck.onset_s)
        for pluck in made:
            before = self._last.get(pluck.string)
            if before is not None:
                before.end_s = min(before.end_s, pluck.onset_s)
            self._last[pluck.string] = pluck
        if self.person.release.length_s is not None and made:
            stop_s = made[-1].onset_s + random.uniform(*self.person.release.length_s)
            for pluck in made:
                self._end(pluck, stop_s + random.uniform(0.0, 0.03))
        self.plucks += made
        return made

    def damp(self, at_s: float) -> None:
        """Everything falls silent."""
        for last in self.ringing(at_s):
            self._end(last, at_s + self._random.uniform(0.0, 0.05))

    @staticmethod
    def _end(pluck: Plucked, at_s: float) -> None:
        pluck.end_s = min(pluck.end_s, max(at_s, pluck.onset_s + _LEAST_S))

    def finish(self) -> list[Plucked]:
        """All plucks in order of onset; on a string each ends when the next one begins."""
        plucks = sorted(self.plucks, key=lambda pluck: (pluck.onset_s, pluck.string))
        following: dict[int, float] = {}
        for pluck in reversed(plucks):
            pluck.end_s = min(pluck.end_s, pluck.dies_s, following.get(pluck.string, math.inf))
            following[pluck.string] = pluck.onset_s
        return plucks
