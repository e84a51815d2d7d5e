"""How good a plan is: its movement against the least possible, against everyday shapes and against greedy choice.

Conventions:

- *movement* is semitones over all changes, the way back of a loop included; *cost* adds the price of voices that enter,
  leave, split or merge (:mod:`listener.music.movement`). Where all voicings have as many notes, both are equal.
- The *ratio* is the plan's cost over the least possible cost without the wishes for top and bottom: 1 means that nobody
  could have moved less.
- A *common tone* is a tone (octaves apart) that two neighbouring voicings share; it is kept when it goes on sounding at
  the same pitch.
- *Singability* counts for each voice how often it held (0), stepped (1-2), skipped (3-4) or leapt (5 semitones and
  more). Voices are told by their rank: the top line, the bottom line, and those between counted from the top, these
  only where the number of notes stays the same.
- *Travel* is how far the hand's centre goes along the neck, in mm, changes to and from open strings left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Final

from listener.drill.drill import Drill
from listener.errors import PlanError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.music.movement import movement, step_word
from listener.music.voicing import FULL
from listener.planning.plan import Plan
from listener.planning.planner import Search, search_of
from listener.planning.yardsticks import changes_of, everyday_route, greedy_route, least_possible


@dataclass(frozen=True, slots=True)
class VoiceLine:
    """How one voice moves, in numbers of changes."""

    name: str
    holds: int
    steps: int
    skips: int
    leaps: int

    @property
    def moves(self) -> int:
        """Changes in which this voice could be followed."""
        return self.holds + self.steps + self.skips + self.leaps

    def as_json(self) -> dict[str, object]:
        """Counts and shares (0 to 1)."""
        counts = {"hold": self.holds, "step": self.steps, "skip": self.skips, "leap": self.leaps}
        shares = {word: round(number / self.moves, 3) if self.moves else 0.0 for word, number in counts.items()}
        return {"voice": self.name, "changes": self.moves, "counts": counts, "shares": shares}


@dataclass(frozen=True, slots=True)
class Totals:
    """What a route comes to. Movement, cost and leap in semitones; ``worst_strain`` 0 to 1 of the hand's reach."""

    movement: int
    cost: int
    voices_moved: int
    common_kept: int
    common_possible: int
    largest_leap: int
    travel_mm: float
    worst_strain: float
    voices: tuple[VoiceLine, ...]

    @property
    def movement_per_voice(self) -> float:
        """Mean semitones that a voice moves in a change."""
        return self.movement / self.voices_moved if self.voices_moved else 0.0

    def as_json(self) -> dict[str, object]:
        """Plain numbers, rounded for reading."""
        return {
            "movement": self.movement,
            "cost": self.cost,
            "movement_per_voice": round(self.movement_per_voice, 3),
            "common_kept": self.common_kept,
            "common_possible": self.common_possible,
            "largest_leap": self.largest_leap,
            "travel_mm": round(self.travel_mm, 1),
            "worst_strain": round(self.worst_strain, 3),
            "voices": [voice.as_json() for voice in self.voices],
        }


@dataclass(frozen=True, slots=True)
class TwoWidths:
    """One chord in its everyday shape and, right after it, wide: the notes of each, the semitones from the lowest to
    the highest, and how many notes of the wide one lie where they lay before, on the same string and fret."""

    chord: str
    everyday_notes: int
    everyday_span: int
    wide_notes: int
    wide_span: int
    shared: int

    def as_json(self) -> dict[str, object]:
        """The fields by name."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class PlanReport:
    """A plan beside its yardsticks.

    ``everyday`` and ``greedy`` are None where the note beside them says why, ``least`` where so many voicings are
    possible without the wishes for the outer lines that it would take too long to find. ``widths`` are the chords that
    come everyday and then wide, each once.
    """

    plan: Totals
    least: int | None
    everyday: Totals | None
    everyday_note: str
    greedy: Totals | None
    greedy_note: str
    widths: tuple[TwoWidths, ...] = ()

    @property
    def ratio(self) -> float | None:
        """The plan's cost over the least possible; None when that is unknown, or nothing need have moved at all."""
        if self.least is None:
            return None
        if self.least == 0:
            return 1.0 if self.plan.cost == 0 else None
        return self.plan.cost / self.least

    def as_json(self) -> dict[str, object]:
        """The ``report`` beside a plan."""
        return {
            "plan": self.plan.as_json(),
            "least_possible": self.least,
            "ratio": round(self.ratio, 3) if self.ratio is not None else None,
            "everyday": self.everyday.as_json() if self.everyday else None,
            "everyday_note": self.everyday_note,
            "greedy": self.greedy.as_json() if self.greedy else None,
            "greedy_note": self.greedy_note,
            "widths": [one.as_json() for one in self.widths],
        }


def report(plan: Plan, drill: Drill, instrument: Instrument, hand: Hand) -> PlanReport:
    """The report on a plan of this drill for this instrument and hand."""
    everyday, everyday_note = _everyday(drill, instrument, hand)
    greedy, greedy_note = _greedy(search_of(drill, instrument, hand))
    return PlanReport(
        plan=totals([planned.fingering for planned in plan.steps], drill.loop),
        least=least_possible(drill, instrument, hand),
        everyday=everyday,
        everyday_note=everyday_note,
        greedy=greedy,
        greedy_note=greedy_note,
        widths=two_widths(plan),
    )


def two_widths(plan: Plan) -> tuple[TwoWidths, ...]:
    """The chords of a plan that come in a full shape and, right after it, in another kind."""
    found: dict[TwoWidths, None] = {}
    for before, after in pairwise(plan.steps):
        if before.voicing.chord != after.voicing.chord or before.voicing.kind != FULL or after.voicing.kind == FULL:
            continue
        places = [set(zip(one.fingering.strings, one.fingering.frets, strict=True)) for one in (before, after)]
        notes = [one.voicing.midi for one in (before, after)]
        found[
            TwoWidths(
                chord=str(after.voicing.chord),
                everyday_notes=len(notes[0]),
                everyday_span=notes[0][-1] - notes[0][0],
                wide_notes=len(notes[1]),
                wide_span=notes[1][-1] - notes[1][0],
                shared=len(places[0] & places[1]),
            )
        ] = None
    return tuple(found)


def _everyday(drill: Drill, instrument: Instrument, hand: Hand) -> tuple[Totals | None, str]:
    try:
        route = everyday_route(drill.steps, instrument, hand)
    except PlanError as error:  # on many strings there may be more shapes than can be looked at
        return None, str(error)
    shapes = [shape for shape in route if shape is not None]
    if len(shapes) == len(route):
        return totals(shapes, drill.loop), ""
    missing = {str(step.wish.chord) for step, shape in zip(drill.steps, route, strict=True) if shape is None}
    return None, f"there is no everyday shape of {', '.join(sorted(missing))} for this neck and hand"


def _greedy(search: Search) -> tuple[Totals | None, str]:
    taken = greedy_route(search.network)
    layers = search.network.layers
    if len(taken) < len(layers):
        lost = search.drill.steps[len(taken)].index + 1
        return None, f"always taking the nearest ends at step {lost - 1}: from there step {lost} cannot be reached"
    route = [layer.fingering(index) for layer, index in zip(layers, taken, strict=True)]
    return totals(route, search.drill.loop), ""


def totals(route: Sequence[Fingering], loop: bool = False) -> Totals:
    """What a row of fingerings comes to."""
    changes = changes_of(route, loop)
    moves = [movement(before.pitches, after.pitches) for before, after in changes]
    shared = [_common(before.pitches, after.pitches) for before, after in changes]
    return Totals(
        movement=sum(move.semitones for move in moves),
        cost=sum(move.cost for move in moves),
        voices_moved=sum(len(move.voices) for move in moves),
        common_kept=sum(kept for kept, _ in shared),
        common_possible=sum(possible for _, possible in shared),
        largest_leap=max((move.largest for move in moves), default=0),
        travel_mm=sum(_travel_mm(before, after) for before, after in changes),
        worst_strain=max((fingering.strain for fingering in route), default=0.0),
        voices=_voices([(before.pitches, after.pitches) for before, after in changes]),
    )


def _common(before: Sequence[int], after: Sequence[int]) -> tuple[int, int]:
    """Common tones kept and possible."""
    kept = {pitch % 12 for pitch in set(before) & set(after)}
    return len(kept), len({pitch % 12 for pitch in before} & {pitch % 12 for pitch in after})


def _travel_mm(before: Fingering, after: Fingering) -> float:
    if before.centre_mm is None or after.centre_mm is None:
        return 0.0
    return abs(after.centre_mm - before.centre_mm)


def _voices(changes: Sequence[tuple[Sequence[int], Sequence[int]]]) -> tuple[VoiceLine, ...]:
    """The lines from the top down; the bottom line last."""
    distances: dict[int, list[int]] = {}
    for before, after in changes:
        distances.setdefault(0, []).append(after[-1] - before[-1])
        if min(len(before), len(after)) > 1:
            distances.setdefault(_BOTTOM, []).append(after[0] - before[0])
        if len(before) == len(after):
            for rank in range(1, len(before) - 1):
                distances.setdefault(rank, []).append(after[-1 - rank] - before[-1 - rank])
    return tuple(_line(_voice_name(rank), distances[rank]) for rank in sorted(distances))


#: Stands for the bottom line among ranks counted from the top.
_BOTTOM: Final = 99


def _voice_name(rank: int) -> str:
    return {0: "top", _BOTTOM: "bottom", 1: "2nd", 2: "3rd"}.get(rank, f"{rank + 1}th")


def _line(name: str, distances: Sequence[int]) -> VoiceLine:
    words = [step_word(distance) for distance in distances]
    return VoiceLine(name, *(words.count(word) for word in ("hold", "step", "skip", "leap")))
