"""How far the ears can be believed: the judge against what a simulated player really did.

A performance is simulated, its pickup's errors included, and judged from the messages alone. Beside it stands the
truth: which strings were plucked and which were let ring, judged by the same comparison. Three things are counted:

- **Strokes.** A stroke is found when one was heard within 50 ms of its first pluck (the tolerance for onsets of
  mir_eval, C. Raffel and others, ISMIR 2014) with exactly the notes that the converter sent for its plucks. F1 is the
  harmonic mean of the found among the played and among the heard.
- **Verdicts.** The first verdict of a step against the grade of what was really played. A second verdict on a step,
  where nobody tried twice, counts as wrong too.
- **False hits.** A hit where the player slipped.

What the converter never sent cannot be heard by anybody. So steps are told apart by the converter's own log of what it
did to each note, before any verdict is looked at: a step is *told* when each of its plucks was sent at its pitch, each
tone held into it sounded on the wire when it began, and no damped tone of its chord did. Agreement is given for all
steps and for the told ones. Nothing is excused in a told step: neither that the step before was not told, nor that an
ear lost its place there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from lab.proving.performing import FIRST_BEAT_S, Performance, grades, notes_of, run_evidence, run_truth
from lab.proving.twins import Twins
from listener.following.pace import Anchor
from listener.hearing.ears import Ears
from listener.hearing.events import Stroke
from listener.hearing.gathering import window_for
from listener.judging.take import TakeJudge
from listener.judging.verdict import HIT

#: Tolerance for onsets (mir_eval's default).
WINDOW_S = 0.050


@dataclass(slots=True)
class Tally:
    """Counts over any number of performances.

    ``confusion`` is (really, judged) to how often; ``judged`` is "none" where a step got no verdict. ``told`` are the
    steps whose notes the messages have as they were played, ``agreed_told`` and ``told_hits`` those of the agreed and
    of the false hits that are told; ``agreed_sent`` are steps that are not told and were judged as what was sent for
    them. ``cleaned`` counts what was set right, ``made`` what the converter did wrong. ``different`` lists
    (performance, step, really, judged) where a told step was judged otherwise. ``twins`` are the steps that a
    performance with the very same messages has too, but with another grade (:mod:`lab.proving.twins`), and
    ``twin_hits`` those of the false hits of which the twin is right. ``lost`` is (why a step was not told, whether it
    was judged as played all the same) to how often.
    """

    played: int = 0
    heard: int = 0
    found: int = 0
    matched: int = 0
    verdicts: int = 0
    agreed: int = 0
    repeated: int = 0
    false_hits: int = 0
    told: int = 0
    agreed_told: int = 0
    told_hits: int = 0
    agreed_sent: int = 0
    twins: int = 0
    twin_hits: int = 0
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)
    cleaned: Counter[str] = field(default_factory=Counter)
    made: Counter[str] = field(default_factory=Counter)
    lost: Counter[tuple[str, bool]] = field(default_factory=Counter)
    different: list[tuple[str, int, str, str]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Sum up."""
        for name in ("played", "heard", "found", "matched", "verdicts", "agreed", "repeated", "false_hits", "told",
                     "agreed_told", "told_hits", "agreed_sent", "twins", "twin_hits"):  # fmt: skip
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.confusion.update(other.confusion)
        self.cleaned.update(other.cleaned)
        self.made.update(other.made)
        self.lost.update(other.lost)
        self.different.extend(other.different)

    @property
    def f1(self) -> float:
        """Of exact strokes, 0 to 1."""
        return 2 * self.found / (self.played + self.heard) if self.played + self.heard else 1.0

    @property
    def onset_f1(self) -> float:
        """Of onsets alone, whatever notes they have."""
        return 2 * self.matched / (self.played + self.heard) if self.played + self.heard else 1.0

    @property
    def agreement(self) -> float:
        """Of all verdicts, 0 to 1."""
        return self.agreed / self.verdicts if self.verdicts else 1.0

    @property
    def reachable(self) -> float:
        """The most that any listener agrees who is right wherever the pickup sends what was played, 0 to 1."""
        return 1 - self.twins / self.verdicts if self.verdicts else 1.0

    @property
    def untold(self) -> int:
        """Steps of which the messages say something else than was played."""
        return self.verdicts - self.told

    @property
    def agreement_told(self) -> float:
        """Of the steps that the messages tell of as they were played, 0 to 1."""
        return self.agreed_told / self.told if self.told else 1.0


#: First pluck (s) of a stroke, and its notes: string (None where not told apart) and pitch.
Group = tuple[float, frozenset[tuple[int | None, int]]]


def groups_played(run: Performance) -> list[Group]:
    """The strokes that were played, with the notes that the converter sent for them, in order; those of which it sent
    nothing are left out."""
    groups: dict[tuple[int, int], list[tuple[float, tuple[int | None, int]]]] = {}
    for pluck, sent in zip(run.plucks, run.sent, strict=True):
        if sent.pitch is not None:
            string = pluck.string if run.pickup.tells_strings else None
            groups.setdefault((pluck.step, pluck.again), []).append((pluck.onset_s, (string, sent.pitch)))
    return sorted(
        ((min(time_s for time_s, _ in notes), frozenset(note for _, note in notes)) for notes in groups.values()),
        key=lambda group: group[0],
    )


def groups_heard(strokes: Sequence[Stroke]) -> list[Group]:
    """Settled strokes likewise."""
    found = [(stroke.onset_s, frozenset((note.string, note.pitch) for note in stroke.struck)) for stroke in strokes]
    return sorted(found, key=lambda group: group[0])


def matches(played: Sequence[Group], heard: Sequence[Group]) -> tuple[int, int]:
    """How many strokes pair up within the tolerance, each at most once, and how many of the pairs are the same.

    Both in order of time; pairing each with the first that is near enough is as many pairs as there can be.
    """
    paired = same = position = 0
    for onset_s, notes in played:
        while position < len(heard) and heard[position][0] < onset_s - WINDOW_S:
            position += 1
        if position < len(heard) and heard[position][0] <= onset_s + WINDOW_S:
            paired += 1
            same += heard[position][1] == notes
            position += 1
    return paired, same


def evaluate(run: Performance) -> Tally:
    """With the drill known."""
    anchor = Anchor(0, FIRST_BEAT_S, run.tempo) if run.tempo is not None else None
    judge = TakeJudge(run.plan, run.pickup, anchor)
    strokes = judge.keep_strokes()
    found = [verdict for message in run.messages for verdict in judge.feed(message)]
    found += judge.tick((run.messages[-1].time_s if run.messages else 0.0) + 30.0)
    found += judge.finish()
    tally = _segmentation(run, strokes)
    tally.cleaned.update(judge.cleaned)
    first: dict[int, str] = {}
    for verdict in found:
        if verdict.settled:
            tally.repeated += verdict.step in first
            first.setdefault(verdict.step, verdict.grade)
    truth, evidence = run_truth(run), run_evidence(run)
    really, sent = grades(run, truth), grades(run, evidence)
    again = Counter(verdict.step for verdict in found if verdict.settled)
    twins = Twins(run)
    hits = {verdict.step for verdict in found if verdict.settled and verdict.grade == HIT}
    for step, grade in enumerate(really):
        judged = first.get(step, "none")
        right = judged == grade and again[step] == 1
        false_hit = grade != HIT and step in hits
        told = notes_of(run, truth[step], step) == notes_of(run, evidence[step], step)
        tally.verdicts += 1
        tally.agreed += right
        tally.confusion[grade, judged] += 1
        tally.false_hits += false_hit
        tally.told += told
        tally.agreed_told += told and right
        tally.told_hits += told and false_hit
        tally.agreed_sent += not told and judged == sent[step] and again[step] <= 1
        if not told:
            tally.lost[" and ".join(twins.causes(step)), right] += 1
        twin = None if told else twins.of(step)
        if twin is not None and twin.grade != grade:
            tally.twins += 1
            tally.twin_hits += false_hit and twin.grade == HIT
        if told and not right:
            tally.different.append((run.name, step, grade, judged))
    return tally


def evaluate_freely(run: Performance, window_s: float | None = None) -> Tally:
    """Without a drill: strokes only."""
    ears = Ears(run.pickup, window_for(None) if window_s is None else window_s)
    strokes = [stroke for message in run.messages for stroke in ears.feed(message)] + ears.flush()
    tally = _segmentation(run, strokes)
    tally.cleaned.update(ears.cleaned)
    return tally


def _segmentation(run: Performance, strokes: Sequence[Stroke]) -> Tally:
    played, heard = groups_played(run), groups_heard(strokes)
    matched, found = matches(played, heard)
    made = Counter(kind for sent in run.sent for kind in sent.artefacts)
    return Tally(played=len(played), heard=len(heard), matched=matched, found=found, made=made)
