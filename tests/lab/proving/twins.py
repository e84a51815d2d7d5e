"""What no listener can tell apart: two performances of which the pickup sends the very same messages.

Where the converter sent something else than was played, a twin may exist: a player who did just that (left the string
out that was never sent, played the note that was sent, damped the tone that died) on a pickup that sent it as it was
played. If the messages of both are the same, byte for byte and time for time, any listener says the same of both. Where
they deserve different grades it is wrong about one of them; whoever is right wherever the pickup sends what was played
is right about the twin. So the steps that have such a twin are what no listener can reach.

A twin counts only if it is proved: it is sent through the simulated converter, with the numbers that chance gave to all
that is the same in both, its messages are compared, the step must be told in it
(:mod:`lab.proving.evaluate`), and a large hand must be able to hold what sounds. Twins that are not found are not
counted, so the true bound may be lower.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf
from random import Random
from typing import Any, Final

from lab.proving.performing import Performance, grades, notes_of, run_evidence, run_truth
from listener.guitar.grip import grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import placements
from listener.hearing.events import Message
from listener.judging.doubt import neck
from listener.simulation.chance import BENT, LET_GO, Chance
from listener.simulation.converter import DIES_EARLY, NEVER_SENT, OCTAVE_UP, RINGS_OVER, Sent, convert
from listener.simulation.player import Pluck

#: So many places on the neck are tried for what was played instead (our choice).
_MOST_PLACES: Final = 12
#: Moments nearer to each other than this (s) are the same: far below the grid of messages.
_SAME_S: Final = 1e-9


@lru_cache(maxsize=1 << 16)
def _large_hand_holds(guitar: Instrument, frets: tuple[tuple[int, int], ...]) -> bool:
    """Twins ask about the same few shapes again and again."""
    return grip(guitar, make_hand("large"), frets) is not None


class _Remembered(Chance):
    """One stream, and where it stood before each thing."""

    def __init__(self, random: Random) -> None:
        super().__init__(random)
        self.states: dict[tuple[str, int], tuple[Any, ...]] = {}

    def about(self, what: str, number: int) -> Random:
        self.states[what, number] = self._random.getstate()
        return self._random


class _Lucky(Random):
    """Nothing befalls (where its share is below a half), and all is as in the middle: one way that chance may go."""

    def random(self) -> float:
        return 0.5

    def gauss(self, mu: float = 0.0, sigma: float = 1.0) -> float:
        return mu

    def expovariate(self, lambd: float = 1.0) -> float:
        return 0.0


class _Again(Chance):
    """The same numbers once more. ``origin`` says which pluck each was; chance spares the ``changed`` ones, and spares
    those that only ``moved`` to another string its open sound when they are let go."""

    def __init__(
        self,
        states: Mapping[tuple[str, int], tuple[Any, ...]],
        origin: Sequence[int],
        changed: AbstractSet[int],
        moved: AbstractSet[int],
    ) -> None:
        super().__init__(_Lucky())
        self._states = states
        #: One thing is drawn for after the other, so one stream will do.
        self._stream = Random(0)
        self._origin = origin
        self._changed, self._moved = changed, moved

    def about(self, what: str, number: int) -> Random:
        if what == BENT:
            state = self._states.get((what, number))
        else:
            before = self._origin[number]
            if before in self._changed or (what == LET_GO and before in self._moved):
                return self._random
            state = self._states[what, before]
        if state is not None:  # A note more than there was: not the same messages, whatever its bends.
            self._stream.setstate(state)
        return self._stream


@dataclass(frozen=True)
class Twin:
    """The other performance, and what the step deserves in it."""

    run: Performance
    grade: str


class Twins:
    """Looks for the twins of a performance."""

    def __init__(self, run: Performance) -> None:
        self._run = run
        #: With no more frets than it has: what is played must be there.
        self._neck = run.plan.instrument or neck(run.plan)

    def of(self, step: int) -> Twin | None:
        """The twin in which this step was sent as it was played; None if none was found."""
        run = self._run
        changed = self._changed(step)
        if not changed:
            return None
        for places in self._places(changed):
            twin = self._sent_again(places, changed)
            truth = run_truth(twin)
            told = notes_of(twin, truth[step], step) == notes_of(twin, run_evidence(twin)[step], step)
            if told and twin.messages == run.messages and self._can_be_held(twin):
                return Twin(twin, grades(twin, truth)[step])
        return None

    def causes(self, step: int) -> tuple[str, ...]:
        """What the converter did to the changed plucks of a step, each kind once: the names of
        :mod:`listener.simulation.converter`."""
        run, kinds = self._run, set()
        for number in self._changed(step):
            sent = run.sent[number].pitch
            if sent != run.plucks[number].pitch:
                kinds.add(NEVER_SENT if sent is None else OCTAVE_UP)
            else:
                kinds.add(DIES_EARLY if number in self._rung[step] else RINGS_OVER)
        return tuple(sorted(kinds))

    # What is different ---------------------------------------------------------------------------------------

    def _changed(self, step: int) -> frozenset[int]:
        """The plucks of this step, or sounding into it, of which something else was sent."""
        run, found = self._run, set()
        began_s, held = self._began_s[step], self._rung[step]
        wanted = run.plan.steps[step].voicing.midi
        for number, (pluck, sent) in enumerate(zip(run.plucks, run.sent, strict=True)):
            otherwise = sent.pitch != pluck.pitch
            if pluck.step == step and not pluck.again:
                differs = otherwise
            elif pluck.step < step:
                sounds = sent.pitch is not None and sent.on_s < began_s < sent.off_s
                was_held = number in held
                differs = (was_held and (otherwise or not sounds)) or (not was_held and sounds and sent.pitch in wanted)
            else:
                differs = False
            if differs:
                found.add(number)
        return frozenset(found)

    @cached_property
    def _began_s(self) -> list[float]:
        """When the first note of each step was sent; 0 when none was."""
        found = [inf] * len(self._run.intents)
        for pluck, sent in zip(self._run.plucks, self._run.sent, strict=True):
            if sent.pitch is not None and not pluck.again:
                found[pluck.step] = min(found[pluck.step], sent.on_s)
        return [0.0 if time_s == inf else time_s for time_s in found]

    @cached_property
    def _rung(self) -> list[frozenset[int]]:
        """The plucks that the player let ring into each step."""
        found = []
        for step, intent in enumerate(self._run.intents):
            latest = {(p.string, p.pitch): number for number, p in enumerate(self._run.plucks) if p.step < step}
            found.append(frozenset(latest[place] for place in intent.held))
        return found

    # Where it is played --------------------------------------------------------------------------------------

    def _places(self, changed: frozenset[int]) -> Iterator[dict[int, int]]:
        """Ways to play what was sent for the chord of the changed plucks: the string of each of its plucks. First as it
        was."""
        run = self._run
        homes = {run.plucks[number].step for number in changed}
        own = [number for number, pluck in enumerate(run.plucks) if pluck.step in homes and not pluck.again]
        strings = {number: run.plucks[number].string for number in own}
        sounding = [number for number in own if run.sent[number].pitch is not None]
        raised = any(run.sent[number].pitch not in (None, run.plucks[number].pitch) for number in changed)
        if not raised or self._holds([(strings[number], run.sent[number].pitch or 0) for number in sounding]):
            yield strings
        if run.pickup.tells_strings or not raised or len(homes) > 1:
            return
        (step,) = homes
        taken = {run.plucks[number].string for number in self._rung[step] - changed}
        free = set(range(1, self._neck.string_count + 1)) - taken
        pitches = [run.sent[number].pitch or 0 for number in sounding]
        if not free or not pitches:
            return
        limits = (0, self._neck.highest_fret)
        found = []
        for shape in placements(
            self._neck, pitches, strings=free, frets=limits, longest_mm=make_hand("large").longest_mm
        ):
            by_pitch = sorted((self._neck.open_midi[string - 1] + fret, string) for string, fret in shape)
            in_order = sorted(sounding, key=lambda number: (run.sent[number].pitch or 0, strings[number]))
            moved = {number: string for number, (_, string) in zip(in_order, by_pitch, strict=True)}
            found.append((sum(moved[number] != strings[number] for number in sounding), sorted(moved.items())))
        for _, way in sorted(found)[:_MOST_PLACES]:
            yield {**strings, **dict(way)}

    def _can_be_held(self, twin: Performance) -> bool:
        """Every chord that is another one than in the run: one note to a string, within a large hand's reach."""
        for shape, before in zip(_shapes(twin), _shapes(self._run), strict=True):
            if shape == before or not shape:
                continue
            if len({string for string, _ in shape}) < len(shape):
                return False
            if not set(shape) <= set(before) and not self._holds(shape):
                return False
        return True

    def _holds(self, shape: Sequence[tuple[int, int]]) -> bool:
        """Whether a large hand holds these (string, pitch) pairs; no hand holds two notes on one string."""
        frets = tuple(sorted(((s, pitch - self._neck.open_midi[s - 1]) for s, pitch in shape), reverse=True))
        on_it = all(0 <= fret <= self._neck.highest_fret for _, fret in frets)
        each_once = len({string for string, _ in frets}) == len(frets)
        return on_it and each_once and _large_hand_holds(self._neck, frets)

    # Sending it again ----------------------------------------------------------------------------------------

    def _sent_again(self, strings: Mapping[int, int], changed: frozenset[int]) -> Performance:
        """The performance with what was sent for the changed plucks played instead, through the converter."""
        run = self._run
        plucks: list[tuple[int, Pluck]] = []
        for number, (pluck, sent) in enumerate(zip(run.plucks, run.sent, strict=True)):
            string = strings.get(number, pluck.string)
            if number not in changed:
                plucks.append((number, replace(pluck, string=string)))
            elif sent.pitch is not None:
                dies_s = max(pluck.dies_s, sent.off_s + _SAME_S)
                plucks.append(
                    (number, replace(pluck, string=string, pitch=sent.pitch, end_s=sent.off_s, dies_s=dies_s))
                )
        moved = {number for number in strings if strings[number] != run.plucks[number].string}
        # The converter's delay is another one now, so the strings are plucked that much sooner or later.
        again = [(number, pluck) for number, pluck in plucks if number in changed]
        _, fates = self._convert(again, changed, moved)
        sent_on = {number: fate.on_s for (number, _), fate in zip(again, fates, strict=True)}
        plucks = [
            (number, replace(pluck, onset_s=pluck.onset_s + run.sent[number].on_s - sent_on[number]))
            if number in changed
            else (number, pluck)
            for number, pluck in plucks
        ]
        plucks.sort(key=lambda item: (item[1].onset_s, item[1].string))
        messages, fates = self._convert(plucks, changed, moved)
        intents = tuple(
            replace(intent, held=self._held(step, plucks, changed)) for step, intent in enumerate(run.intents)
        )
        played = tuple(pluck for _, pluck in plucks)
        return replace(run, plucks=played, intents=intents, messages=messages, sent=fates)

    def _convert(
        self, plucks: Sequence[tuple[int, Pluck]], changed: AbstractSet[int], moved: AbstractSet[int]
    ) -> tuple[tuple[Message, ...], tuple[Sent, ...]]:
        run = self._run
        chance = _Again(self._states, [number for number, _ in plucks], changed, moved)
        return convert([pluck for _, pluck in plucks], run.pickup, chance, run.converter, run.plan.open_midi)

    def _held(
        self, step: int, plucks: Sequence[tuple[int, Pluck]], changed: AbstractSet[int]
    ) -> tuple[tuple[int, int], ...]:
        """What rings into a step: as the player meant it, and of what was changed as it was sent."""
        began_s, before = self._began_s[step], self._rung[step]
        wanted = self._run.plan.steps[step].voicing.midi

        def rings(number: int, pluck: Pluck) -> bool:
            if number not in changed:
                return number in before
            sent = self._run.sent[number]
            return sent.on_s < began_s < sent.off_s and pluck.pitch in wanted

        return tuple((p.string, p.pitch) for number, p in plucks if p.step < step and rings(number, p))

    @cached_property
    def _states(self) -> Mapping[tuple[str, int], tuple[Any, ...]]:
        """Where the stream of numbers stood before each thing, when the run was sent."""
        run, random = self._run, Random(0)
        random.setstate(run.drawn)
        chance = _Remembered(random)
        convert(run.plucks, run.pickup, chance, run.converter, run.plan.open_midi)
        return chance.states


def _shapes(run: Performance) -> list[tuple[tuple[int, int], ...]]:
    """For each step the (string, pitch) pairs that were plucked or let ring into it."""
    return [
        tuple(sorted([(p.string, p.pitch) for p in run.plucks if p.step == step and not p.again] + list(intent.held)))
        for step, intent in enumerate(run.intents)
    ]
