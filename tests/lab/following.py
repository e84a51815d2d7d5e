"""How well somebody is followed: verdicts beside the truth, counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Final, NamedTuple

from lab.people.hands import Plucked
from lab.people.take import Take
from lab.people.truth import HIT_TRUTH, NO_HIT, NOT_PLAYED, Attempt
from listener.judging.take import TakeJudge
from listener.judging.verdict import HIT, Verdict

#: A verdict's onset may be off by this much from when the player was there.
WINDOW_S: Final = 0.35
#: A hit is shown at once when that is so soon after its last string was plucked: the slowest pickup's delay, and some.
AT_ONCE_S: Final = 0.15
#: A hit may be dated so much too early, by tones that the chord shares with what led to it, and is still no false one.
_SOON_S: Final = 2.5
#: Silence and noodling that last longer than so many bars are nobody's chords.
HUSH_BARS: Final = 4
#: A pause between messages.
_PAUSE_S: Final = 0.08
#: Time goes on for so long after the last message.
_AFTER_S: Final = 30.0
_NOT_PLAYED_CODES: Final = {"nothing", "left_out"}


class Said(NamedTuple):
    """A verdict, settled or not, and the time of the message that brought it about (inf: after the end)."""

    at_s: float
    verdict: Verdict


class Disagreement(NamedTuple):
    """One thing that was said and is not so, for looking at: ``--show WAY DRILL SEED`` prints the take. ``what`` is
    "first", "astray", "extra", "false hit" or "into quiet"."""

    what: str
    way: str
    drill: str
    seed: int
    step: int
    truth: str
    said: str
    onset_s: float


_COUNTS: Final = (
    "takes", "steps", "agreed", "told", "agreed_told", "apart", "agreed_apart", "heard", "astray", "extra",
    "false_hits", "alike", "told_false_hits", "into_quiet", "hits", "at_once", "taken_back",
)  # fmt: skip


@dataclass(slots=True)
class Result:
    """Counts, to be added up. ``steps`` are all steps, ``agreed`` those of which the first verdict says what the
    first attempt was; ``told`` those whose messages say what was played. ``heard`` are settled verdicts on something
    that was played; ``astray`` those on a step that the player was not at; ``extra`` those beyond the attempts at their
    step; ``false_hits`` say hit where no attempt was one, ``alike`` those of them where the player was at a step that
    asks for the very same notes; ``into_quiet`` are verdicts during long silence or
    noodling. ``apart`` are the steps whose chord is not also the one before or after. Of ``hits``, steps whose first
    attempt was one, ``at_once`` were called so as soon as they were complete; ``taken_back`` are hits that were shown,
    and settled otherwise."""

    takes: int = 0
    steps: int = 0
    agreed: int = 0
    told: int = 0
    agreed_told: int = 0
    heard: int = 0
    astray: int = 0
    extra: int = 0
    false_hits: int = 0
    alike: int = 0
    told_false_hits: int = 0
    into_quiet: int = 0
    apart: int = 0
    agreed_apart: int = 0
    hits: int = 0
    at_once: int = 0
    taken_back: int = 0
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, other: Result) -> None:
        """Sum up."""
        for name in _COUNTS:
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.confusion.update(other.confusion)

    @property
    def agreement(self) -> float:
        """Of all steps, 0 to 1."""
        return self.agreed / self.steps if self.steps else 1.0

    @property
    def agreement_told(self) -> float:
        """Of the told steps, 0 to 1."""
        return self.agreed_told / self.told if self.told else 1.0

    @property
    def agreement_apart(self) -> float:
        """Of the steps whose chord is not also the one before or after, 0 to 1."""
        return self.agreed_apart / self.apart if self.apart else 1.0

    @property
    def at_once_share(self) -> float:
        """Of the hits, 0 to 1."""
        return self.at_once / self.hits if self.hits else 1.0

    @property
    def astray_share(self) -> float:
        """Of the verdicts on something that was heard, 0 to 1."""
        return self.astray / self.heard if self.heard else 0.0


def judge(take: Take) -> list[Said]:
    """All that is said about a take, with when. Time is told as well, once in each pause between messages: what it
    brings about is then known by when."""
    judge = TakeJudge(take.prepared.plan, take.pickup, take.anchor)
    found: list[Said] = []
    tell_s = inf
    for message in take.messages:
        if message.time_s > tell_s:
            found += [Said(tell_s, verdict) for verdict in judge.tick(tell_s)]
        found += [Said(message.time_s, verdict) for verdict in judge.feed(message)]
        tell_s = message.time_s + _PAUSE_S
    end_s = (take.messages[-1].time_s if take.messages else 0.0) + _AFTER_S
    for at_s in (min(tell_s, end_s), end_s):
        found += [Said(at_s, verdict) for verdict in judge.tick(at_s)]
    found += [Said(inf, verdict) for verdict in judge.finish()]
    return found


def said_of(verdict: Verdict | None) -> str:
    """In the words of the truth."""
    if verdict is None or not verdict.heard or any(fault.code in _NOT_PLAYED_CODES for fault in verdict.faults):
        return NOT_PLAYED
    return HIT_TRUTH if verdict.grade == HIT else NO_HIT


def follow(take: Take, way: str, drill: str, seed: int) -> tuple[Result, list[Disagreement]]:
    """One take: counts, and every disagreement."""
    return compare(take, judge(take), way, drill, seed)


def compare(take: Take, said_all: Sequence[Said], way: str, drill: str, seed: int) -> tuple[Result, list[Disagreement]]:
    """What was said, in the order in which it was, against the truth."""
    truth, result, wrong = take.truth, Result(takes=1), []
    settled = [one for one in said_all if one.verdict.settled]
    _count_at_once(take, said_all, result)

    def note(what: str, step: int, really: str, said: str, onset_s: float) -> None:
        wrong.append(Disagreement(what, way, drill, seed, step, really, said, onset_s))

    first: dict[int, Verdict] = {}
    for one in settled:
        first.setdefault(one.verdict.step, one.verdict)
    told, apart = told_steps(take), _apart(take)
    for step, really in enumerate(truth.first):
        said = said_of(first.get(step))
        result.steps += 1
        result.told += told[step]
        result.apart += apart[step]
        result.confusion[really, said] += 1
        if said == really:
            result.agreed += 1
            result.agreed_told += told[step]
            result.agreed_apart += apart[step]
        else:
            attempt = truth.first_attempt(step)
            note("first", step, really, said, first[step].onset_s if attempt is None else attempt.onset_s)
    tried = Counter(attempt.step for attempt in truth.attempts)
    given: Counter[int] = Counter()
    for one in settled:
        verdict, said = one.verdict, said_of(one.verdict)
        if _into_quiet(take, verdict, said):
            result.into_quiet += 1
            note("into quiet", verdict.step, "quiet", said, verdict.onset_s)
        if said == NOT_PLAYED:
            continue
        result.heard += 1
        given[verdict.step] += 1
        if verdict.step not in truth.near(verdict.onset_s, WINDOW_S):
            result.astray += 1
            at = ", ".join(map(str, sorted(truth.at(verdict.onset_s)))) or "away"
            note("astray", verdict.step, f"at {at}", said, verdict.onset_s)
        elif given[verdict.step] > tried[verdict.step]:
            note("extra", verdict.step, f"{tried[verdict.step]} attempts", said, verdict.onset_s)
        if said == HIT_TRUTH and not _was_hit(truth.attempts, one):
            result.false_hits += 1
            result.alike += _alike(take, verdict)
            result.told_false_hits += told[verdict.step]
            note("false hit", verdict.step, "no hit then", said, verdict.onset_s)
    result.extra = sum(max(0, given[step] - tried[step]) for step in given)
    return result, wrong


def _alike(take: Take, verdict: Verdict) -> bool:
    """Whether the player was at another step then that asks for the same notes as this one."""
    asked = [target.pitches for target in take.prepared.targets]
    at = take.truth.near(verdict.onset_s, WINDOW_S) - {verdict.step}
    return any(step < len(asked) and asked[step] == asked[verdict.step] for step in at)


def _apart(take: Take) -> list[bool]:
    """Whether each step's chord is another than the one before and the one after: of equal chords in a row, without a
    click, nobody can always say which one was struck."""
    pitches = [target.pitches for target in take.prepared.targets]
    return [
        notes not in (*pitches[max(0, step - 1) : step], *pitches[step + 1 : step + 2])
        for step, notes in enumerate(pitches)
    ]


def _count_at_once(take: Take, said_all: Sequence[Said], result: Result) -> None:
    """How soon hits were shown, and how often one was taken back."""
    hits = [one for one in said_all if one.verdict.grade == HIT]
    for step in range(len(take.truth.first)):
        attempt = take.truth.first_attempt(step)
        if attempt is not None and attempt.hit:
            result.hits += 1
            result.at_once += any(
                verdict.step == step
                and verdict.onset_s >= attempt.onset_s - WINDOW_S
                and at_s <= attempt.complete_s + AT_ONCE_S
                for at_s, verdict in hits
            )
    settled = [(verdict.step, verdict.onset_s) for _, verdict in hits if verdict.settled]
    shown = {(verdict.step, round(verdict.onset_s, 2)) for _, verdict in hits if not verdict.settled}
    result.taken_back += sum(
        not any(step == other and abs(onset_s - other_s) <= WINDOW_S for other, other_s in settled)
        for step, onset_s in shown
    )


def _was_hit(attempts: tuple[Attempt, ...], said: Said) -> bool:
    """Whether the attempt at that step that was going on then was a hit, or one that began within the window.

    Where none was going on, one that begins soon after will do, if nothing was settled before it was complete: tones
    that it shares with what led to it were taken for its beginning.
    """
    at_s, verdict = said
    mine = [attempt for attempt in attempts if attempt.step == verdict.step]
    if any(attempt.hit and abs(attempt.onset_s - verdict.onset_s) <= WINDOW_S for attempt in mine):
        return True
    begun = [attempt for attempt in mine if attempt.from_s <= verdict.onset_s + WINDOW_S]
    if begun and (begun[-1].hit or verdict.onset_s - begun[-1].complete_s <= WINDOW_S):
        return begun[-1].hit
    later = [a for a in mine if verdict.onset_s < a.onset_s <= verdict.onset_s + _SOON_S and a.complete_s <= at_s]
    return bool(later) and later[0].hit


def _into_quiet(take: Take, verdict: Verdict, said: str) -> bool:
    """Whether this was said about silence or noodling that had been going on for more than four bars."""
    plan = take.prepared.plan
    beat_s = 60.0 / (take.tempo or plan.drill.tempo)
    hush_s = HUSH_BARS * plan.drill.meter[0] * beat_s
    at_s = verdict.onset_s
    if said == NOT_PLAYED:
        anchor = take.anchor
        if anchor is None:
            return False
        start = plan.steps[verdict.step].step.start_beats - plan.steps[0].step.start_beats
        at_s = anchor.time_s + start * beat_s
    return any(quiet.start_s + hush_s < at_s < quiet.end_s for quiet in take.truth.quiet)


def told_steps(take: Take) -> list[bool]:
    """Whether the messages of each step's first visit say what was played: each pluck was sent at its pitch, and of
    the step's tones those that sounded when it began also did on the wire, no others. Steps that were not played are
    told when nothing was lost: always."""
    mine: dict[int, list[int]] = {}
    for number, pluck in enumerate(take.plucks):
        if pluck.visit is not None:
            mine.setdefault(pluck.visit, []).append(number)
    found = []
    for step in range(len(take.truth.first)):
        attempt = take.truth.first_attempt(step)
        found.append(attempt is None or _told(take, attempt, mine.get(attempt.visit, [])))
    return found


def _told(take: Take, attempt: Attempt, visit: list[int]) -> bool:
    if any(take.sent[number].pitch != take.plucks[number].pitch for number in visit):
        return False
    began_s = min(take.sent[number].on_s for number in visit)
    wanted = set(take.prepared.targets[attempt.step].pitches)
    first = min(visit)
    on_wire = {
        sent.pitch
        for pluck, sent in zip(take.plucks[:first], take.sent[:first], strict=True)
        if sent.pitch is not None and sent.on_s < began_s < sent.off_s
    }
    struck = {take.plucks[number].pitch for number in visit}
    held = {pitch for _, pitch in attempt.held}
    return (held & wanted) - struck == (on_wire & wanted) - struck


def bursts(plucks: tuple[Plucked, ...], gap_s: float = 0.060) -> list[list[Plucked]]:
    """Plucks that follow each other within the gap, together."""
    found: list[list[Plucked]] = []
    for pluck in plucks:
        if found and pluck.onset_s - found[-1][-1].onset_s < gap_s:
            found[-1].append(pluck)
        else:
            found.append([pluck])
    return found
