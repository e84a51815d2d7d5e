"""A pattern under two hands: which string of a chord is struck when, place by place, with a player's unevenness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Final

from listener.music.pattern import UP, Placed
from listener.planning.plan import PlannedStep
from listener.simulation.habits import Player
from listener.simulation.slips import Place

#: The most of the time to the next place that a strum takes, and the least time between two places (assumed).
_STRUM_SHARE: Final = 0.6
_LEAST_GAP_S: Final = 0.02


@dataclass(frozen=True, slots=True)
class Patterned:
    """A chord with a pattern, due at ``due_s`` seconds at beats of this length."""

    planned: PlannedStep
    due_s: float
    beat_s: float

    def at_s(self, one: Placed) -> float:
        """When a place is due."""
        return self.due_s + float(one.start_beats) * self.beat_s

    def rests_s(self) -> list[float]:
        """When the strings are stopped."""
        return [self.at_s(one) for one in self.planned.step.placed if one.place.rests]


@dataclass(frozen=True, slots=True)
class Touch:
    """A string struck, in seconds at the string; ``again`` is how often it had been in this chord."""

    place: Place
    onset_s: float
    accent: bool
    again: int


def touches(chord: Patterned, places: Sequence[Place], start_s: float, random: Random, player: Player) -> list[Touch]:
    """Everything that is struck of a chord, in order of time.

    ``places`` are played, which a slip may have made others than those of the plan. The chord is begun at ``start_s``;
    who begins late catches up. The first strum touches all strings, later up-strokes only the highest.
    """
    found: list[Touch] = []
    counts: dict[tuple[int, int], int] = {}
    voiced = _voiced(chord.planned, places)
    free_s = 0.0
    for number, one in enumerate(one for one in chord.planned.step.placed if one.place.struck):
        if number:
            at_s = max(free_s, chord.at_s(one) + random.gauss(0.0, player.early_late_sd_ms) / 1000)
        else:
            at_s = start_s + chord.at_s(one) - chord.due_s
        if one.place.strum:
            room_s = float(one.length_beats) * chord.beat_s
            burst = _strum(one, list(places), number > 0, room_s, random, player)
        else:
            burst = _pick(one, chord.planned, voiced, [] if number else _besides(voiced, places), random, player)
        for place, delay_s in burst:
            key = (place[0], place[2])
            found.append(Touch(place, at_s + delay_s, one.place.accent, counts.get(key, 0)))
            counts[key] = counts.get(key, 0) + 1
        free_s = at_s + max((delay_s for _, delay_s in burst), default=0.0) + _LEAST_GAP_S
    return sorted(found, key=lambda touch: touch.onset_s)


def _strum(
    one: Placed, places: list[Place], later: bool, room_s: float, random: Random, player: Player
) -> list[tuple[Place, float]]:
    ordered = sorted(places, key=lambda place: -place[0])
    if one.place.strum == UP:
        ordered.reverse()
        if later:
            ordered = ordered[: random.randint(min(player.least_up_strings, len(ordered)), len(ordered))]
    spread_ms = min(random.uniform(*player.strum_spread_ms), 1000 * _STRUM_SHARE * room_s)
    return list(zip(ordered, player.strum_delays_s_drawn(len(ordered), spread_ms, random), strict=True))


def _pick(
    one: Placed, planned: PlannedStep, voiced: dict[int, Place], besides: list[Place], random: Random, player: Player
) -> list[tuple[Place, float]]:
    """The voices of a place, plucked together; one that the player's slip left out is silent."""
    pattern = planned.step.pattern
    ranks = pattern.voices(one.place, len(planned.voicing.midi)) if pattern is not None else ()
    meant = [*(voiced[rank] for rank in ranks if rank in voiced), *besides]
    if len(meant) < 2:
        return [(place, 0.0) for place in meant]
    spread_s = player.pluck_spread_ms_drawn(random) / 1000
    moments = sorted(random.random() for _ in meant)
    width = (moments[-1] - moments[0]) or 1.0
    return [(place, (moment - moments[0]) / width * spread_s) for place, moment in zip(meant, moments, strict=True)]


def _voiced(planned: PlannedStep, places: Sequence[Place]) -> dict[int, Place]:
    """The places by the rank of their voice: in order where there are as many as planned, else by their strings."""
    strings = planned.fingering.strings
    if len(places) == len(strings):
        return dict(enumerate(sorted(places, key=lambda place: (place[2], -place[0]))))
    by_string = {place[0]: place for place in places}
    return {rank: by_string[string] for rank, string in enumerate(strings) if string in by_string}


def _besides(voiced: dict[int, Place], places: Sequence[Place]) -> list[Place]:
    """What a slip added to the chord."""
    return [place for place in places if place not in voiced.values()]
