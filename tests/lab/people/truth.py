"""What somebody who practises really did, as a teacher beside them would say it.

What counts as an attempt (our choice where nothing else is said):

- A chord that is plucked, strummed, rolled or picked is one attempt, whatever time it takes from string to string; it
  is judged by its tones, those that were let ring into it included. The same struck again, picked on, and fills above
  it are none; a slip in a later round is a remark.
- The grip tried string by string, single strays, noodling and tuning are none.
- **Looking for a chord**: two tones or more of it struck *together*, a pause, then all of it struck: the first is an
  attempt, and not right, because by its notes it is just what a chord with dropped tones is; the teacher's "not yet".
  When the rest is *added* while those tones ring (bass first and then the others, a tone that had not come out), it is
  one attempt, and right: in the end all of it rings together.
- A tone that is hammered on or pulled off is the tone that it arrives at.
- With the click an attempt is timed by its first note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lab.people.hands import BREATH_S, Plucked
from listener.hearing.events import NoteOn, Stroke
from listener.judging.strictness import StepTarget
from listener.judging.verdict import HIT

HIT_TRUTH: Final = "hit"
NO_HIT: Final = "not a hit"
NOT_PLAYED: Final = "not played"
OUTCOMES: Final = (HIT_TRUTH, NO_HIT, NOT_PLAYED)

#: Nobody is at a chord any more so long after the last note.
AWAY_S: Final = 6.0


@dataclass(frozen=True, slots=True)
class Span:
    """From ``start_s`` until the next one the player is at one of these steps (none: away from all), doing this."""

    start_s: float
    steps: frozenset[int]
    doing: str


@dataclass(frozen=True, slots=True)
class Quiet:
    """Seconds without a chord of the drill: silence or noodling."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt at a step. ``from_s`` is when what led to it began: its own first pluck, or that of the grip being
    tried; ``complete_s`` is when its last string was plucked; ``struck`` and ``held`` are (string, MIDI note);
    ``late_ms`` is its time against the click, None at own pace."""

    step: int
    from_s: float
    onset_s: float
    complete_s: float
    hit: bool
    struck: tuple[tuple[int, int], ...]
    held: tuple[tuple[int, int], ...]
    late_ms: float | None
    visit: int


@dataclass(frozen=True, slots=True)
class Truth:
    """``attempts`` in order of time; ``first`` are each step's outcome (one of :data:`OUTCOMES`); ``spans`` in order
    of time; ``quiet`` where nothing may be said after a while."""

    attempts: tuple[Attempt, ...]
    first: tuple[str, ...]
    spans: tuple[Span, ...]
    quiet: tuple[Quiet, ...]

    def first_attempt(self, step: int) -> Attempt | None:
        """The first one at this step."""
        return next((attempt for attempt in self.attempts if attempt.step == step), None)

    def at(self, time_s: float) -> frozenset[int]:
        """Steps that the player is at; none before the first note and away from all."""
        found: frozenset[int] = frozenset()
        for span in self.spans:
            if span.start_s > time_s:
                break
            found = span.steps
        return found

    def near(self, time_s: float, window_s: float) -> frozenset[int]:
        """Steps that the player is at at any time within the window."""
        found = self.at(time_s - window_s)
        for span in self.spans:
            if time_s - window_s < span.start_s <= time_s + window_s:
                found |= span.steps
        return found


@dataclass(slots=True)
class Try:
    """An attempt while it is made. ``due_s`` is when the click wants it, None at own pace."""

    step: int
    visit: int
    due_s: float | None


def stroke_of(struck: Sequence[Plucked], held: Sequence[Plucked], *, tells_strings: bool) -> Stroke:
    """As the comparison wants it."""
    return Stroke(
        tuple(NoteOn(p.onset_s, p.pitch, p.velocity, p.string if tells_strings else None) for p in struck),
        tuple(NoteOn(p.onset_s, p.pitch, p.velocity, p.string if tells_strings else None) for p in held),
        settled=True,
        closed_s=struck[-1].onset_s,
    )


def attempts_of(
    tries: Sequence[Try],
    plucks: Sequence[Plucked],
    targets: Sequence[StepTarget],
    *,
    timing_ms: float,
    tells_strings: bool,
) -> tuple[Attempt, ...]:
    """What became of each try: judged by its plucks that count, and by what was let ring into it."""
    mine: list[list[Plucked]] = [[] for _ in tries]
    rang: list[list[Plucked]] = [[] for _ in tries]
    last: dict[int, Plucked] = {}
    begun: dict[int, float] = {}
    for pluck in plucks:
        if pluck.visit is not None:
            begun.setdefault(pluck.visit, pluck.onset_s)
        if pluck.attempt is not None:
            if not mine[pluck.attempt]:
                rang[pluck.attempt] = list(last.values())
            mine[pluck.attempt].append(pluck)
        last[pluck.string] = pluck
    found = []
    for tried, whole, before in zip(tries, mine, rang, strict=True):
        struck = [pluck for pluck in whole if pluck.counts]
        held = held_into(whole, before)
        stroke = stroke_of(struck, held, tells_strings=tells_strings)
        hit = targets[tried.step].judge(stroke)[0].grade == HIT
        onset_s = whole[0].onset_s
        late_ms = None if tried.due_s is None else 1000 * (onset_s - tried.due_s)
        if late_ms is not None and abs(late_ms) > timing_ms:
            hit = False
        found.append(
            Attempt(
                tried.step,
                # Only the first attempt of a visit has something that led to it.
                begun.pop(tried.visit, onset_s),
                onset_s,
                struck[-1].onset_s,
                hit,
                tuple((p.string, p.pitch) for p in struck),
                tuple((p.string, p.pitch) for p in held),
                late_ms,
                tried.visit,
            )
        )
    return tuple(sorted(found, key=lambda attempt: attempt.onset_s))


def held_into(whole: Sequence[Plucked], before: Sequence[Plucked]) -> list[Plucked]:
    """Of each string's last pluck before an attempt, those that sound when its first string is plucked, and still do
    when it is complete or has been going on for a quarter of a second."""
    onset_s = whole[0].onset_s
    until_s = min(whole[-1].onset_s, onset_s + BREATH_S)
    return [pluck for pluck in before if pluck.onset_s < onset_s and pluck.end_s > until_s]


def outcomes(attempts: Sequence[Attempt], steps: int) -> tuple[str, ...]:
    """Each step's first attempt."""
    found = [NOT_PLAYED] * steps
    for attempt in reversed(attempts):
        found[attempt.step] = HIT_TRUTH if attempt.hit else NO_HIT
    return tuple(found)
