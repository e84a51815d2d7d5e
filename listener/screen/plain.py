"""The same take in plain lines, one per verdict: for screen readers, pipes and small terminals."""

from __future__ import annotations

from types import TracebackType
from typing import TextIO

from listener.judging.verdict import Verdict
from listener.safe_text import printable
from listener.screen.free_words import chord_line
from listener.screen.summary import summary_lines
from listener.screen.theme import to_ascii
from listener.screen.words import kind_words, number, offset_words, step_of
from listener.session.state import FINISHED, PAUSED, Snapshot


class PlainScreen:
    """Same interface as the live screen. Only settled verdicts are told; nothing is ever redrawn. ASCII only."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._told = 0
        self._told_chords = 0
        self._note = ""
        self._phase = ""
        self._newest: Snapshot | None = None
        self._gone = False

    def __enter__(self) -> PlainScreen:
        return self

    def show(self, snapshot: Snapshot, force: bool = False) -> None:
        """Tell what is new; ``force`` is there for the sake of the interface."""
        lines = [] if self._newest is not None else start_lines(snapshot)
        if len(snapshot.verdicts) < self._told or (self._phase == FINISHED and snapshot.phase != FINISHED):
            self._told = 0
            lines.append("Another take.")
        lines += [verdict_line(snapshot, verdict) for verdict in snapshot.verdicts[self._told :]]
        self._told = len(snapshot.verdicts)
        chords = snapshot.chords or ()
        lines += [chord_line(chord) for chord in chords[self._told_chords :]]
        self._told_chords = len(chords)
        if snapshot.note and snapshot.note != self._note:
            lines.append(f"Note: {snapshot.note}")
        if PAUSED in (snapshot.phase, self._phase) and self._phase not in ("", snapshot.phase):
            lines.append("Paused." if snapshot.phase == PAUSED else "Going on.")
        if snapshot.phase == FINISHED and self._phase != FINISHED:
            lines += ["End of the take.", *summary_lines(snapshot)]
        self._newest, self._note, self._phase = snapshot, snapshot.note, snapshot.phase
        self._tell(lines)

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
        except (OSError, ValueError):
            self._gone = True


def start_lines(snapshot: Snapshot) -> list[str]:
    """What is being practised, and the first chord."""
    plan = snapshot.plan
    if snapshot.chords is not None:
        return ["Free listening: every chord is named as you play it.", f"Listening to {snapshot.source}."]
    pace = "own pace" if snapshot.tempo is None else f"{number(snapshot.tempo)} beats a minute"
    lines = [f"{plan.drill.title or plan.drill.name}: {len(plan.steps)} chords, {plan.drill.key}, {pace}."]
    lines.append(f"Listening to {snapshot.source}.")
    target = snapshot.target
    if target is not None:
        lines.append(f"First: {target.voicing.chord}, {kind_words(target)}, {' '.join(target.voicing.names)}.")
    return lines


def verdict_line(snapshot: Snapshot, verdict: Verdict) -> str:
    """``12  Am7 drop 2: near. Right chord, but close: lift the E an octave.``"""
    planned = step_of(snapshot.plan, verdict)
    what = f"{planned.voicing.chord} {planned.voicing.kind}" if planned is not None else "?"
    again = f" (try {verdict.attempt})" if verdict.attempt > 1 else ""
    said = [verdict.grade, *(_sentence(fault.text) for fault in verdict.faults[:2])]
    if verdict.offset_ms is not None and not any(fault.ms is not None for fault in verdict.faults):
        said.append(_sentence(offset_words(verdict.offset_ms)))
    return f"{verdict.step + 1:>2}  {what}{again}: {'. '.join(said)}."


def _sentence(text: str) -> str:
    return (text[:1].upper() + text[1:]).rstrip(".")
