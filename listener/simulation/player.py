"""A guitarist who is not there: what a plan's chords become under two hands, mistakes included.

Pure and seeded: the same numbers give the same performance. Times are seconds at the strings; what a pickup makes of
them is :mod:`listener.simulation.simulated`'s.

What the player is like, in numbers, is :mod:`listener.simulation.habits`'.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Final

from listener.drill.drill import LOUD, QUIET, Step
from listener.planning.plan import Plan, PlannedStep
from listener.simulation.habits import FLAWLESS as FLAWLESS
from listener.simulation.habits import Player as Player
from listener.simulation.patterns import Patterned, touches
from listener.simulation.slips import LATE, SLIPS, Place, slipped

#: A string is held over only if it will ring this long after the next chord is due: until that chord is complete.
_BREATH_S: Final = 0.25
#: The hand leaves a chord that has a pattern after this share of the time from its last stroke to the next chord.
_LEAVE_SHARE: Final = 0.6


@dataclass(frozen=True, slots=True)
class Intent:
    """What the player meant and did: the step's index, the slip or None, when the step was due, and the (string,
    pitch) pairs that were let ring into it."""

    step: int
    slip: str | None
    due_s: float = 0.0
    held: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True)
class Pluck:
    """One string plucked and let go, in seconds at the string. ``dies_s`` is when it falls silent if not damped.

    ``step`` is the number of the chord that it belongs to, ``again`` how often that chord, in a pattern that
    string of it, had been struck before.
    """

    string: int
    pitch: int
    velocity: int
    onset_s: float
    dies_s: float
    end_s: float = math.inf
    step: int = 0
    again: int = 0


@dataclass(frozen=True, slots=True)
class _Chord:
    """One chord as it will be played: places are (string, fret, pitch), ``due_s`` with the player's own timing."""

    places: tuple[Place, ...]
    due_s: float
    next_due_s: float
    arpeggio: bool = False
    patterned: Patterned | None = None
    asked: Step | None = None

    def louder(self, player: Player) -> float:
        """How much louder than usual the whole of it is meant to be."""
        level = self.asked.level if self.asked is not None else None
        return {LOUD: player.level_velocity, QUIET: -player.level_velocity}.get(level or "", 0.0)

    def stands_out(self, place: Place, player: Player) -> float:
        """How much louder than the rest of it this string is meant to be."""
        pitches = [pitch for _, _, pitch in self.places]
        balance = self.asked.balance if self.asked is not None else None
        wanted = {"top": max(pitches), "bottom": min(pitches)}.get(balance or "")
        own = player.top_velocity if place[2] == max(pitches) else 0.0
        return own + (player.asked_velocity if place[2] == wanted else 0.0)

    def leaves_s(self, player: Player) -> float | None:
        """How long before the next chord the fingers leave; None: early enough that nothing seems held over."""
        ring = self.asked is not None and self.asked.ring
        return player.asked_leaves_s if ring and player.leaves_s is None else player.leaves_s


def perform(
    plan: Plan,
    random: Random,
    *,
    tempo: float | None,
    first_beat_s: float,
    player: Player,
    slips: Mapping[int, str] | None = None,
) -> tuple[list[Pluck], list[Intent]]:
    """Play a plan once. ``tempo`` None is the player's own pace, about the drill's tempo.

    ``slips`` names the slip of each step that shall go wrong, and then no other does; a slip that cannot be made at
    that step is a ValueError.
    """
    open_strings = plan.open_midi
    due = _due_times(plan, random, tempo, first_beat_s, player)
    chords, intents = [], []
    for index, planned in enumerate(plan.steps):
        slip, places = _choose(planned, index, random, player, slips, open_strings, with_click=tempo is not None)
        intents.append(Intent(planned.step.index, slip, due[index]))
        late_s = random.uniform(*player.late_ms) / 1000 if slip == LATE else 0.0
        wobble_s = random.gauss(player.early_late_ms, player.early_late_sd_ms) / 1000 if tempo is not None else 0.0
        start_s = max(0.0, due[index] + wobble_s + late_s)
        beat_s = (due[index + 1] - due[index]) / planned.step.length_beats if tempo is None else 60.0 / tempo
        patterned = Patterned(planned, due[index], beat_s) if planned.step.pattern is not None else None
        chords.append(_Chord(places, start_s, due[index + 1], plan.drill.arpeggio, patterned, planned.step))
    played, held = _play(chords, random, player)
    return played, [replace(intent, held=rung) for intent, rung in zip(intents, held, strict=True)]


def _due_times(plan: Plan, random: Random, tempo: float | None, first_beat_s: float, player: Player) -> list[float]:
    """When each step is due, and the end of the last."""
    if tempo is not None:
        starts = [planned.step.start_beats for planned in plan.steps]
        starts.append(starts[-1] + plan.steps[-1].step.length_beats if starts else 0.0)
        return [first_beat_s + (start - starts[0]) * 60.0 / tempo for start in starts]
    due = [first_beat_s]
    for planned in plan.steps:
        share = max(0.7, random.gauss(1.0, player.pace_sd))
        due.append(due[-1] + max(0.35, share * planned.step.length_beats * plan.drill.seconds_per_beat))
    return due


def _choose(
    planned: PlannedStep,
    index: int,
    random: Random,
    player: Player,
    slips: Mapping[int, str] | None,
    open_strings: tuple[int, ...],
    *,
    with_click: bool,
) -> tuple[str | None, tuple[Place, ...]]:
    """The slip of this step, if any, and what is played."""
    shape = planned.fingering
    meant = tuple(zip(shape.strings, shape.frets, shape.pitches, strict=True))
    asked = slips.get(index) if slips is not None else _drawn_slip(random, player)
    if asked is None:
        return None, meant
    if asked not in SLIPS:
        raise ValueError(f"there is no slip '{asked}'; there are {', '.join(SLIPS)}")
    played = (meant if with_click else None) if asked == LATE else slipped(asked, meant, open_strings, random)
    if played is None:
        if slips is not None:
            raise ValueError(f"the slip '{asked}' cannot be made at step {index + 1}")
        return None, meant
    return asked, played


def _drawn_slip(random: Random, player: Player) -> str | None:
    drawn = random.random()
    for slip, share in player.slip_shares.items():
        if drawn < share:
            return slip
        drawn -= share
    return None


def _play(
    chords: list[_Chord], random: Random, player: Player
) -> tuple[list[Pluck], list[tuple[tuple[int, int], ...]]]:
    """All plucks of the performance, in order of onset, and what was held over into each chord."""
    played: list[Pluck] = []
    held_over: list[tuple[tuple[int, int], ...]] = []
    ringing: dict[tuple[int, int], Pluck] = {}
    for number, chord in enumerate(chords):
        if chord.patterned is not None:
            struck = _by_pattern(chord, chord.patterned, number, random, player)
            played.extend(struck)
            held_over.append(())
            ringing = {}
            continue
        held = _held_over(chord, ringing, random, player)
        held_over.append(tuple(held))
        fresh = [place for place in chord.places if (place[0], place[2]) not in held]
        struck = _plucks(chord, fresh, random, player)
        for pluck in struck:
            pluck.step = number
        played.extend(struck)
        if player.repeat_share and random.random() < player.repeat_share:
            struck = _again(chord, struck, random, player)
            played.extend(struck)
        ringing = {(pluck.string, pluck.pitch): pluck for pluck in [*held.values(), *struck]}
        _let_go(list(ringing.values()), chord, random, player)
    return sorted(played, key=lambda pluck: (pluck.onset_s, pluck.string)), held_over


def _again(chord: _Chord, struck: list[Pluck], random: Random, player: Player) -> list[Pluck]:
    """The same strings struck once more, half-way to the next chord."""
    room_s = chord.next_due_s - chord.due_s
    halfway = replace(chord, due_s=chord.due_s + room_s / 2)
    again = _plucks(halfway, [(pluck.string, 0, pluck.pitch) for pluck in struck], random, player)
    by_place = {(pluck.string, pluck.pitch): pluck for pluck in again}
    for pluck in struck:
        later = by_place[pluck.string, pluck.pitch]
        later.step, later.again = pluck.step, pluck.again + 1
        pluck.end_s = min(pluck.dies_s, later.onset_s)
    return again


def _by_pattern(chord: _Chord, patterned: Patterned, number: int, random: Random, player: Player) -> list[Pluck]:
    """A chord as its pattern has it, in order; a string sounds until it is struck again, stopped or let go."""
    loudness = random.gauss(player.velocity, player.velocity_sd) + chord.louder(player)
    found: list[Pluck] = []
    sounding: dict[int, Pluck] = {}
    stops = patterned.rests_s()
    for touch in touches(patterned, chord.places, chord.due_s, random, player):
        string = touch.place[0]
        mean = loudness + (player.accent_velocity if touch.accent else 0.0)
        mean += chord.stands_out(touch.place, player)
        pluck = _pluck(touch.place, touch.onset_s, mean, random, player)
        pluck.step, pluck.again = number, touch.again
        pluck.end_s = min([pluck.dies_s, *(stop_s for stop_s in stops if stop_s > touch.onset_s)])
        if string in sounding:
            sounding[string].end_s = min(sounding[string].end_s, touch.onset_s)
        sounding[string] = pluck
        found.append(pluck)
    if found:
        last_s = found[-1].onset_s
        room_s = max(0.0, chord.next_due_s - last_s)
        for pluck in sounding.values():
            spread_s = min(player.release_spread_s_drawn(random), 0.3 * room_s)
            released_s = last_s + _LEAVE_SHARE * room_s + spread_s
            if (leaves_s := chord.leaves_s(player)) is not None:
                released_s = chord.next_due_s - leaves_s
            pluck.end_s = max(pluck.onset_s + 0.03, min(released_s, pluck.end_s))
    return found


def _held_over(
    chord: _Chord, ringing: dict[tuple[int, int], Pluck], random: Random, player: Player
) -> dict[tuple[int, int], Pluck]:
    """Common tones that the player lets ring into this chord: never all of it, and only what still has breath."""
    common = [ringing[string, pitch] for string, _, pitch in chord.places if (string, pitch) in ringing]
    breathing = [pluck for pluck in common if pluck.dies_s > chord.due_s + _BREATH_S]
    if len(breathing) == len(chord.places) or not breathing or random.random() >= player.hold_share:
        return {}
    return {(pluck.string, pluck.pitch): pluck for pluck in breathing}


def _plucks(chord: _Chord, places: list[Place], random: Random, player: Player) -> list[Pluck]:
    loudness = random.gauss(player.velocity, player.velocity_sd) + chord.louder(player)
    plucks = []
    for place, delay_s in zip(*_stagger(chord, places, random, player), strict=True):
        mean = loudness + chord.stands_out(place, player)
        plucks.append(_pluck(place, chord.due_s + delay_s, mean, random, player))
    return plucks


def _pluck(place: Place, onset_s: float, loudness: float, random: Random, player: Player) -> Pluck:
    """A string plucked about so loudly."""
    string, _, pitch = place
    velocity = round(random.gauss(loudness, player.note_velocity_sd))
    ring_s = random.lognormvariate(math.log(player.ring_s[string > 3]), player.ring_sigma)
    return Pluck(string, pitch, min(127, max(25, velocity)), onset_s, onset_s + ring_s)


def _stagger(chord: _Chord, places: list[Place], random: Random, player: Player) -> tuple[list[Place], list[float]]:
    """Places in the order in which they sound, each with its delay in seconds after the chord is due."""
    if chord.arpeggio:
        ordered = sorted(places, key=lambda place: -place[0])
        return ordered, _one_by_one(chord, len(ordered), random, player)
    return staggered(places, chord.next_due_s - chord.due_s, random, player)


def staggered(
    places: Sequence[Place], room_s: float, random: Random, player: Player
) -> tuple[list[Place], list[float]]:
    """One stroke, plucked or strummed: places in the order in which they sound, each with its delay in seconds.
    ``room_s`` is the time to the next chord."""
    ordered = sorted(places, key=lambda place: -place[0])
    if len(places) >= player.strum_from:
        spread_ms = min(random.uniform(*player.strum_spread_ms), 600 * room_s)
        if random.random() < player.up_strum_share:
            ordered.reverse()
        return ordered, player.strum_delays_s_drawn(len(ordered), max(0.0, spread_ms), random)
    spread_ms = player.pluck_spread_ms_drawn(random)
    moments = [random.random() for _ in ordered]
    if len(ordered) > 1:
        earliest = moments.index(min(moments))
        first = 0 if random.random() < player.thumb_first_share else random.randrange(1, len(moments))
        moments[first], moments[earliest] = moments[earliest], moments[first]
    start = min(moments)
    width = (max(moments) - start) or 1.0
    return ordered, [(moment - start) / width * spread_ms / 1000 for moment in moments]


def _one_by_one(chord: _Chord, count: int, random: Random, player: Player) -> list[float]:
    """An arpeggio fills its step evenly, with the player's unevenness in every note but the first."""
    gap_s = (chord.next_due_s - chord.due_s) / max(1, count)
    wobbles = (random.gauss(0.0, player.early_late_sd_ms) / 1000 for _ in range(count - 1))
    return [0.0, *(number * gap_s + wobble_s for number, wobble_s in enumerate(wobbles, start=1))][:count]


def _let_go(plucks: list[Pluck], chord: _Chord, random: Random, player: Player) -> None:
    """Ends all notes of a chord, early enough that none of them seems held into the next one, or by habit."""
    room_s = chord.next_due_s - chord.due_s
    hand_leaves_s = chord.next_due_s - min(0.30, max(0.15, 0.3 * room_s))
    leaves_s = chord.leaves_s(player)
    ranks = {pitch: rank for rank, pitch in enumerate(sorted({pluck.pitch for pluck in plucks}))}
    for pluck in plucks:
        released_s = hand_leaves_s + player.release_spread_s_drawn(random)
        if leaves_s is not None:
            released_s = chord.next_due_s - leaves_s
        released_s -= player.lift_s if ranks[pluck.pitch] in player.lifted else 0.0
        pluck.end_s = max(pluck.onset_s + 0.05, min(released_s, pluck.dies_s))
