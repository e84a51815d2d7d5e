"""One take as a readable list: what was played, what the player was doing, and what was said, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from lab.following import Disagreement, Said, bursts, said_of
from lab.people.hands import Plucked
from lab.people.take import Take
from listener.judging.verdict import Verdict

_NAMES: Final = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def note_name(pitch: int) -> str:
    """As people say it; 60 is C4."""
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}"


def timeline(take: Take, said: Sequence[Said], wrong: Sequence[Disagreement] = ()) -> str:
    """A line for each burst of notes (gaps under 60 ms) and for each verdict, in order of onset; verdicts are indented,
    with when they were said. Numbers after the notes are strings; steps count from 0."""
    plan, truth = take.prepared.plan, take.truth
    rows: list[tuple[float, int, str]] = []
    for burst in bursts(take.plucks):
        rows.append((burst[0].onset_s, 1, _burst(take, burst)))
    for attempt in truth.attempts:
        held = " ".join(note_name(pitch) for _, pitch in attempt.held)
        late = "" if attempt.late_ms is None else f", {attempt.late_ms:+.0f} ms"
        chord = plan.steps[attempt.step].voicing.chord
        target = " ".join(map(note_name, take.prepared.targets[attempt.step].pitches))
        text = f"-- step {attempt.step} {chord} ({target}): {'HIT' if attempt.hit else 'not a hit'}{late}"
        rows.append((attempt.onset_s, 0, text + (f", held {held}" if held else "")))
    for quiet in truth.quiet:
        rows.append((quiet.start_s, 0, f"-- quiet until {quiet.end_s:.2f}"))
    marks: dict[tuple[int, float], list[str]] = {}
    for one in wrong:
        marks.setdefault((one.step, one.onset_s), []).append(one.what)
    for at_s, verdict in said:
        if verdict.settled:
            rows.append((verdict.onset_s, 2, _verdict(at_s, verdict, marks.pop((verdict.step, verdict.onset_s), []))))
    for (step, onset_s), whats in marks.items():
        rows.append((onset_s, 3, f"{'':36}   !! step {step}: {', '.join(whats)}"))
    rows.sort(key=lambda row: row[:2])
    person = take.person
    head = (
        f"{take.name}: {take.tempo or 'own pace'}, {person.release.name} release, hold {person.player.hold_share},"
        f" ring {person.player.ring_s[0]:.1f}-{person.player.ring_s[1]:.1f} s, {person.chord_s:.1f} s a chord"
    )
    return "\n".join((head, *(f"{at_s:8.2f}  {text}" for at_s, _, text in rows)))


def _burst(take: Take, burst: Sequence[Plucked]) -> str:
    notes = " ".join(f"{note_name(pluck.pitch)}/{pluck.string}" for pluck in burst)
    lost = [
        f"{note_name(pluck.pitch)} {'lost' if sent.pitch is None else 'as ' + note_name(sent.pitch)}"
        for pluck, sent in zip(take.plucks, take.sent, strict=True)
        if sent.pitch != pluck.pitch and any(pluck is one for one in burst)
    ]
    doing = " + ".join(dict.fromkeys(pluck.doing for pluck in burst))
    at = ",".join(map(str, sorted(take.truth.at(burst[-1].onset_s)))) or "away"
    error = f" [{', '.join(lost)}]" if lost else ""
    return f"{notes:34} {doing} ({at}){error}"


def _verdict(at_s: float, verdict: Verdict, marks: Sequence[str]) -> str:
    heard = " ".join(map(note_name, verdict.heard))
    faults = "; ".join(fault.text for fault in verdict.faults)
    when = "at the end" if at_s == float("inf") else f"{at_s:.2f}"
    wrong = f" !! {', '.join(marks)}" if marks else ""
    return (
        f"{'':36} => step {verdict.step} #{verdict.attempt} {verdict.grade} ({said_of(verdict)}){wrong},"
        f" heard {heard or 'nothing'}, said {when}{'; ' + faults if faults else ''}"
    )
