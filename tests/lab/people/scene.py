"""One take while it is played: the plan, the person, the hands, the time; and the truth, written down as it happens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Final

from lab.people.hands import Hands, Plucked, Sound
from lab.people.person import Person
from lab.people.truth import AWAY_S, Quiet, Span, Try
from listener.drill.drill import SAME_CHORD, SAME_KIND
from listener.hearing.events import NoteOn, Stroke
from listener.judging.strictness import StepTarget, targets
from listener.judging.verdict import HIT
from listener.planning.plan import Plan
from listener.simulation.slips import Place, on_neck

CHORD: Final = "chord"
AGAIN: Final = "again"
AWAY: Final = "away"
_LAX: Final = (SAME_CHORD, SAME_KIND)


@dataclass(frozen=True)
class Prepared:
    """A plan and what is worked out from it once: targets, places of each chord, open strings, and the pitch classes
    that tunes and noodling are made of, chord tones first."""

    plan: Plan
    targets: tuple[StepTarget, ...]
    chords: tuple[tuple[Place, ...], ...]
    open_strings: tuple[int, ...]
    scale: frozenset[int]


def prepare(plan: Plan) -> Prepared:
    """Do it once for each plan: it is slow."""
    shapes = [planned.fingering for planned in plan.steps]
    chords = tuple(tuple(zip(shape.strings, shape.frets, shape.pitches, strict=True)) for shape in shapes)
    sounded = Counter(pitch % 12 for places in chords for _, _, pitch in places)
    scale = frozenset(tone for tone, _ in sounded.most_common(7))
    return Prepared(plan, targets(plan), chords, plan.open_midi, scale)


@dataclass(slots=True)
class Scene:
    """``now_s`` is when the next thing can begin. ``free_s``: from when on the chord that was struck last is complete,
    and ``next_s`` when the next one is due: fills and repeats go in between, and may put that off. ``struck`` are the
    places of that chord, ``tune`` the last note (MIDI) of the tune above it; ``chords`` each step's places."""

    prepared: Prepared
    person: Person
    random: Random
    now_s: float
    hands: Hands = field(init=False)
    chords: tuple[tuple[Place, ...], ...] = field(init=False)
    tries: list[Try] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    quiet: list[Quiet] = field(default_factory=list)
    free_s: float = 0.0
    next_s: float = 0.0
    struck: tuple[Place, ...] = ()
    tune: int | None = None
    _visit: int = -1
    _visited: int | None = None
    _once: dict[Hashable, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.hands = Hands(self.prepared.open_strings, self.person, self.random)
        self.chords = tuple(self._as_played(step) for step in range(len(self.plan.steps)))

    @property
    def plan(self) -> Plan:
        """What is practised."""
        return self.prepared.plan

    def _as_played(self, step: int) -> tuple[Place, ...]:
        """The planned places; or, where the drill leaves it open and this person likes to choose, another voicing."""
        planned = self.prepared.chords[step]
        if self.plan.steps[step].step.strictness not in _LAX or self.random.random() >= self.person.other_share:
            return planned
        for _ in range(5):
            pitches = self.random.choice(self.plan.options[step])
            places = on_neck(pitches, self.prepared.open_strings)
            if places is not None and self.would_hit(step, places):
                return tuple(places)
        return planned

    # Where the player is -------------------------------------------------------------------------------------

    def be_at(self, at_s: float, steps: Iterable[int], doing: str) -> None:
        """From here on."""
        self.spans.append(Span(at_s, frozenset(steps), doing))

    def be_away(self, start_s: float, end_s: float) -> None:
        """No chord of the drill between these times."""
        self.quiet.append(Quiet(start_s, end_s))

    def visit(self, step: int) -> int:
        """The number of this visit to a step."""
        if step != self._visited:
            self._visit += 1
            self._visited = step
        return self._visit

    def leave(self) -> None:
        """Whatever comes next is another visit."""
        self._visited = None

    # Chords --------------------------------------------------------------------------------------------------

    def attempt(
        self,
        step: int,
        sounds: Sequence[Sound],
        at_s: float,
        chord: Sequence[Place],
        *,
        due_s: float | None = None,
        doing: str = CHORD,
    ) -> list[Plucked]:
        """Leave what rings, strike this (all of a chord or its beginning), and let it count as an attempt."""
        # Who tries the same chord once more strikes all of it; and a slip that what rings on would hide is none.
        wrong = not self.would_hit(step, chord)
        hidden = wrong and self.would_hit(step, chord, self.hands.still_ringing(at_s))
        may_hold = set(chord) & set(self.chords[step]) if step != self._visited and not hidden else set()
        left = self.hands.change_to(sounds, at_s, chord, may_hold=may_hold, may_ring=not hidden)
        self.tries.append(Try(step, self.visit(step), due_s))
        self.be_at(at_s, (step,), doing)
        return self._belong(self.hands.strike(left, at_s, doing), step, len(self.tries) - 1)

    def add(self, step: int, sounds: Sequence[Sound], at_s: float, *, doing: str = CHORD) -> list[Plucked]:
        """More strings of the same attempt, which count too."""
        self.be_at(at_s, (step,), doing)
        return self._belong(self.hands.strike(sounds, at_s, doing), step, len(self.tries) - 1)

    def again(self, step: int, sounds: Sequence[Sound], at_s: float, *, doing: str = AGAIN) -> list[Plucked]:
        """A later round, a fill, the grip tried: no attempt."""
        self.be_at(at_s, (step,), doing)
        made = self.hands.strike(sounds, at_s, doing)
        for pluck in made:
            pluck.visit, pluck.counts = self.visit(step), False
        return made

    def aside(self, sounds: Sequence[Sound], at_s: float, doing: str, steps: Iterable[int] = ()) -> list[Plucked]:
        """Something that has nothing to do with a chord; ``steps`` where the player is all the same."""
        self.be_at(at_s, steps, doing)
        made = self.hands.strike(sounds, at_s, doing)
        for pluck in made:
            pluck.counts = False
        return made

    def _belong(self, made: list[Plucked], step: int, attempt: int) -> list[Plucked]:
        for pluck in made:
            pluck.visit, pluck.attempt = self.visit(step), attempt
        return made

    def would_hit(self, step: int, places: Sequence[Place], ringing: Sequence[Plucked] = ()) -> bool:
        """Whether these places, plucked while those strings ring, are right for a step."""
        struck = tuple(NoteOn(0.0, pitch, 80, string) for string, _, pitch in places)
        held = tuple(NoteOn(0.0, pluck.pitch, 80, pluck.string) for pluck in ringing)
        return self.prepared.targets[step].grade(Stroke(struck, held, settled=True, closed_s=0.0)) == HIT

    def is_again(self, places: Sequence[Place]) -> bool:
        """Whether these places sound the chord that was struck last."""
        return {pitch for _, _, pitch in places} == {pitch for _, _, pitch in self.struck}

    # Time ----------------------------------------------------------------------------------------------------

    def pause(self, low_s: float, high_s: float) -> float:
        """So many seconds, drawn."""
        return self.random.uniform(low_s, high_s)

    def then_not_before(self, at_s: float) -> None:
        """Something was played at this time: the next chord needs a moment after it."""
        self.free_s = max(self.free_s, at_s)
        self.next_s = max(self.next_s, at_s + self.random.uniform(0.25, 0.8))

    def silence(self, seconds: float) -> None:
        """Nothing for so long."""
        self.hands.damp(self.now_s + self.random.uniform(0.0, 2.0))
        if seconds > AWAY_S:
            self.be_at(self.now_s + AWAY_S, (), AWAY)
        self.be_away(self.now_s, self.now_s + seconds)
        self.now_s += seconds

    # Chance --------------------------------------------------------------------------------------------------

    def once(self, what: Hashable, draw: Callable[[], int]) -> int:
        """A step for something that happens once in a take; drawn when it is first asked for."""
        if what not in self._once:
            self._once[what] = draw()
        return self._once[what]

    def happened(self, what: Hashable) -> None:
        """It does not happen again."""
        self._once[what] = -1

    def middle(self) -> int:
        """A step that is neither the first nor among the last."""
        steps = len(self.plan.steps)
        return self.random.randint(1, max(1, min(steps - 1, (3 * steps) // 4)))
