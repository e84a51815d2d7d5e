"""The same take in plain lines, one per verdict: for screen readers, pipes and small terminals."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from types import TracebackType
from typing import Final, TextIO

from listener.errors import OutputLost
from listener.judging.fill import Aside
from listener.judging.verdict import Verdict
from listener.plain_words import capital
from listener.planning.plan import PlannedStep
from listener.safe_text import printable
from listener.screen.free.words import chord_line, harmony_words
from listener.screen.practice.heading import KEYS, key_names
from listener.screen.practice.summary import summary_lines
from listener.screen.theme import Theme, to_ascii
from listener.screen.words import kind_words, offset_words, pace_words, roll_words, step_of
from listener.session.take.state import FINISHED, PAUSED, Snapshot

#: Who has gone to another chord of the drill is told its name when they have been there for so long: longer than it
#: takes to settle a verdict, which may name it too (our choice).
_STAYED_S: Final = 2.0
_ASCII: Final = Theme(ascii_only=True)


class PlainScreen:
    """Same interface as the live screen. Only settled verdicts are told; nothing is ever redrawn. ASCII only."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._told = 0
        self._told_chords = 0
        self._told_harmony = 0
        self._told_asides = 0
        self._note = ""
        self._phase = ""
        self._newest: Snapshot | None = None
        self._passage: str | None = None
        #: The step whose chord was named last, and the one that is due instead, with since when.
        self._named = 0
        self._instead: tuple[int, float] | None = None
        self._gone = False

    def __enter__(self) -> PlainScreen:
        return self

    def show(self, snapshot: Snapshot, force: bool = False) -> None:
        """Tell what is new; ``force`` is there for the sake of the interface."""
        lines = [] if self._newest is not None else start_lines(snapshot)
        if len(snapshot.verdicts) < self._told or (self._phase == FINISHED and snapshot.phase != FINISHED):
            self._told = self._told_asides = 0
            lines.append("Another take.")
            lines += [f"First: {_spelled(snapshot.target)}."] if snapshot.target is not None else []
            self._named, self._instead = snapshot.step, None
        fresh = snapshot.verdicts[self._told :]
        told = [verdict_line(snapshot, verdict) for verdict in fresh]
        lines += with_asides(snapshot, fresh, told, snapshot.asides[self._told_asides :])
        self._told, self._told_asides = len(snapshot.verdicts), len(snapshot.asides)
        coming = _after(snapshot, fresh[-1]) if fresh else None
        if coming is not None:
            lines.append(f"Next: {_spelled(coming)}.")
            self._named, self._instead = coming.step.index, None
        chords = snapshot.chords or ()
        lines += [chord_line(chord) for chord in chords[self._told_chords :]]
        self._told_chords = len(chords)
        over = [chord for chord in snapshot.harmony[self._told_harmony :] if chord.settled]
        if over:
            lines.append(f"Harmony: {harmony_words(over)}.")
            self._told_harmony += len(over)
        note = snapshot.note.removeprefix(snapshot.coming).removeprefix("; ")  # what is coming the summary says
        if note and snapshot.note != self._note:
            lines.append(f"Note: {note}")
        if PAUSED in (snapshot.phase, self._phase) and self._phase not in ("", snapshot.phase):
            lines.append((snapshot.away or "Paused.") if snapshot.phase == PAUSED else "Going on.")
        elif snapshot.away and self._newest is not None and snapshot.away != self._newest.away:
            lines.append(snapshot.away)
        lines += self._due_lines(snapshot)
        lines += self._pattern_lines(snapshot)
        if snapshot.phase == FINISHED and self._phase != FINISHED:
            lines += ["End of the take.", *summary_lines(snapshot)]
        self._newest, self._note, self._phase = snapshot, snapshot.note, snapshot.phase
        self._tell(lines)

    def turn(self, word: str) -> bool:
        """A key that is about the screen alone: all keys are told. False for other keys."""
        if word == "signs":
            self._tell([f"{key_names(action, _ASCII)}: {key.meaning}." for action, key in KEYS.items()])
        return word in ("signs", "more")

    def _due_lines(self, snapshot: Snapshot) -> list[str]:
        """The chord that is due, where that is another than the one named last: at once when a key, or who wakes a
        take, has gone there; at own pace also when the player went there and has stayed for a while."""
        before, step = self._newest, snapshot.step
        if snapshot.target is None:
            return []
        if before is None:
            self._named = step
        elif snapshot.jumps > before.jumps:
            pass
        elif snapshot.tempo is not None or snapshot.phase == PAUSED or step == self._named:
            self._instead = None
            return []
        elif self._instead is None or self._instead[0] != step:
            self._instead = (step, snapshot.now_s)
            return []
        elif snapshot.now_s - self._instead[1] < _STAYED_S:
            return []
        self._named, self._instead = step, None
        return [] if before is None else [f"Next: {_spelled(snapshot.target)}."]

    def _pattern_lines(self, snapshot: Snapshot) -> list[str]:
        """How the chords of a passage are played, when it begins."""
        step = snapshot.target.step if snapshot.target is not None else None
        passage = step.passage if step is not None else None
        if passage == self._passage:
            return []
        self._passage = passage
        return [f"Pattern: {step.pattern.words}."] if step is not None and step.pattern is not None else []

    def close(self) -> None:
        """Tell the end of a take that was broken off; once."""
        if self._newest is not None and self._phase != FINISHED:
            self._phase = FINISHED
            self._tell(["Ended early.", *summary_lines(self._newest)])

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def _tell(self, lines: list[str]) -> None:
        """A reader that has gone away (a closed pipe) must not end the take."""
        if not lines or self._gone:
            return
        try:
            self._stream.write("".join(f"{to_ascii(printable(line))}\n" for line in lines))
            self._stream.flush()
        except (OSError, ValueError, OutputLost):
            self._gone = True


def start_lines(snapshot: Snapshot) -> list[str]:
    """What is being practised, and the first chord."""
    plan = snapshot.plan
    if snapshot.chords is not None:
        return [
            "Free listening: every chord is named as you play it.",
            "k keeps the passage you just played as a drill.",
            f"Listening to {snapshot.source}.",
        ]
    pace = pace_words(snapshot)
    lines = [f"{plan.drill.title or plan.drill.name}: {len(plan.steps)} chords, {plan.drill.key}, {pace}."]
    lines.append(f"Listening to {snapshot.source}.")
    target = snapshot.target
    if target is not None:
        lines.append(f"First: {_spelled(target)}.")
    return lines


def _spelled(planned: PlannedStep | None) -> str:
    """``Am7, drop 2, third inversion, G3 C4 E4 A4``."""
    if planned is None:
        return "the end"
    return f"{planned.voicing.chord}, {kind_words(planned)}, {' '.join(planned.voicing.names)}"


def _short(planned: PlannedStep) -> str:
    return f"{planned.voicing.chord} {planned.voicing.kind}"


def _after(snapshot: Snapshot, verdict: Verdict) -> PlannedStep | None:
    """The chord that comes after this verdict; None at the end, and as long as the same chord may be tried again."""
    if snapshot.phase == FINISHED or (snapshot.tempo is None and snapshot.step == verdict.step):
        return None
    # With the click the verdict often comes while its own chord is still the one on the beat.
    step = snapshot.step if snapshot.tempo is None else max(snapshot.step, verdict.step + 1)
    last = len(snapshot.plan.steps) - 1 if snapshot.last_step is None else snapshot.last_step
    return snapshot.plan.steps[step] if step <= last else None


def verdict_line(snapshot: Snapshot, verdict: Verdict) -> str:
    """``12  Am7 drop 2: near. Right chord, but close: lift the E an octave.``"""
    planned = step_of(snapshot.plan, verdict)
    what = f"{planned.voicing.chord} {planned.voicing.kind}" if planned is not None else "?"
    again = f" (try {verdict.attempt})" if verdict.attempt > 1 else ""
    said = [verdict.grade, *(_sentence(fault.text) for fault in verdict.faults[:2])]
    if rolled := roll_words(snapshot.plan, verdict):
        said.append(_sentence(rolled))
    if verdict.offset_ms is not None and not {"late", "early"} & set(verdict.fault_codes):
        said.append(_sentence(offset_words(verdict.offset_ms)))
    return f"{verdict.step + 1:>2}  {what}{again}: {'. '.join(said)}."


def aside_line(snapshot: Snapshot, aside: Aside) -> str:
    """``12  Am7 drop 2: the up-stroke on 2-and was left out; even to within 12 ms.``"""
    step, said = aside
    return f"{step + 1:>2}  {_short(snapshot.plan.steps[step])}: {'; '.join(said.words)}."


def with_asides(
    snapshot: Snapshot,
    verdicts: Sequence[Verdict],
    lines: Sequence[str],
    asides: Sequence[Aside],
) -> list[str]:
    """The verdicts' lines, and beneath the last one of each visit to a step what was played over it then and what
    became of its pattern."""
    found, left = [], deque(asides)
    for index, (verdict, line) in enumerate(zip(verdicts, lines, strict=True)):
        found.append(line)
        step = verdict.step
        if verdicts[index + 1 : index + 2] and verdicts[index + 1].step == step:
            continue
        while any(other == step for other, _ in left):
            aside = left.popleft()
            found.append(aside_line(snapshot, aside))
            if aside[0] == step and not (left and left[0][0] == step):
                break
    return found + [aside_line(snapshot, aside) for aside in left]


def _sentence(text: str) -> str:
    return capital(text).rstrip(".")
