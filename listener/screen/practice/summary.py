"""The end of a take in plain words: what improved, the one thing to do next, and then how it went."""

from __future__ import annotations

from collections import Counter
from typing import Final

from listener.drill.drill import REMARKS_AS_FAULTS
from listener.judging.account import Account
from listener.judging.remarks.take_remarks import NAMES, remark_words, take_remarks
from listener.judging.touch.words import touch_lines
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.plain_words import capital, counted
from listener.planning.easier import worst_strain
from listener.planning.plan import Plan
from listener.screen.free.words import free_summary
from listener.screen.words import how_often, number, offset_words, pickup_words
from listener.session.since import put_right
from listener.session.take.state import Snapshot

#: Share of a hand's reach from which a plan counts as a stretch; our own choice.
HIGH_STRAIN: Final = 0.8
_STRETCH_CARE: Final = (
    "Some of these shapes stretch the hand far. If anything hurts, stop, rest, and ask a teacher or a clinician."
)
#: So many chords that come late in one take are a reason to slow down; our own choice.
_OFTEN: Final = 3
#: Faults by their code, as a noun for "most often".
_FAULT_NOUNS: Final = {
    "nothing": "silence", "left_out": "a chord left out", "octave": "the whole chord in another octave",
    "spacing": "the spacing", "inversion": "the inversion", "wrong_octave": "a voice in another octave",
    "top_note": "the top note", "wrong_tone": "a wrong tone", "missing": "a missing tone", "extra": "a tone too many",
    "other_chord": "another chord", "late": "late", "early": "early", "string": "another string",
    "rolled": "a rolled chord",
}  # fmt: skip
#: What helps against each; the chord's name is put in.
_ADVICE: Final = {
    "nothing": "place the fingers for {chord} without sound first, then play it",
    "left_out": "slow down until {chord} has time to come",
    "octave": "find {chord} once more on the neck diagram, at your own pace",
    "spacing": "play {chord} one string after another and listen to the gap between the voices",
    "inversion": "sing the bass of {chord} before you play it",
    "wrong_octave": "play {chord} one string after another, low to high",
    "top_note": "sing the top line alone, then put {chord} under it",
    "wrong_tone": "play {chord} one string after another, low to high",
    "missing": "pluck each string of {chord} by itself until all of them speak",
    "extra": "mute the strings that {chord} does not need",
    "other_chord": "look at {chord} alone, then go back in",
    "late": "take the tempo down a little and place the fingers before the beat",
    "early": "take the tempo down a little and wait for the beat",
    "rolled": "set all fingers of {chord} down first, then strike its strings in one go",
    "string": "find {chord} once more on the neck diagram, at your own pace",
    "parallel_fifths": "keep a common tone on the way to {chord}, or let one voice move against the other",
    "parallel_octaves": "keep a common tone on the way to {chord}, or let the top move against the bass",
    "contrary_fifths": "look for a nearer voicing of {chord}: one tone held, the others by step",
    "contrary_octaves": "look for a nearer voicing of {chord}: one tone held, the others by step",
    "hidden_octave": "come to {chord} with the top by step, or with the bass going the other way",
    "crossing": "sing the voices into {chord} one by one, and keep each on its side of its neighbours",
}


def short_lines(snapshot: Snapshot) -> list[str]:
    """How it went, what improved, and the one thing to do next; a word of care where the shapes ask for it."""
    if snapshot.chords is not None or not snapshot.verdicts:
        return summary_lines(snapshot)
    better = snapshot.since or put_right(snapshot.account)
    care = [_STRETCH_CARE] if worst_strain(snapshot.plan) >= HIGH_STRAIN else []
    return [_grades_line(snapshot), *([better] if better else []), *_next_lines(snapshot), *care]


def summary_lines(snapshot: Snapshot) -> list[str]:
    """Everything that there is to say about a take; each sentence fits on a line or wraps well."""
    cleaned = [pickup_words(snapshot.cleaned)] if snapshot.cleaned else []
    if snapshot.chords is not None:
        return free_summary(snapshot.chords, snapshot.harmony) + cleaned
    verdicts = snapshot.verdicts
    if not verdicts:
        return ["No chord of the drill was played in this take.", *cleaned]
    account = snapshot.account
    better = snapshot.since or put_right(account)
    lines = [better] if better else []
    lines += [*_next_lines(snapshot), _grades_line(snapshot)]
    lines += _movement_line(account) + _timing_line(account)
    lines += touch_lines(snapshot.plan, snapshot.touch) if snapshot.touch is not None else []
    lines += _often_line(snapshot.plan, account, verdicts)
    asked = snapshot.plan.drill.remarks
    if asked:
        lines.append(remark_words(take_remarks(verdicts), faults=asked == REMARKS_AS_FAULTS))
    lines += cleaned
    if worst_strain(snapshot.plan) >= HIGH_STRAIN:
        lines.append(_STRETCH_CARE)
    return lines


def _grades_line(snapshot: Snapshot) -> str:
    """The counts, and how far the take went if it did not go through the whole drill."""
    account = snapshot.account
    hits, nears, misses = account.grades
    told = f"{counted(hits, 'hit')}, {counted(nears, 'near')}, {counted(misses, 'miss', 'misses')}"
    if snapshot.last_step is not None or not account.how_far:  # a part is played for its own sake
        return f"{told}, of {counted(account.judged, 'chord')}."
    return f"{told}: {account.how_far}{', then broken off' if account.broken_off else ''}."


def _movement_line(account: Account) -> list[str]:
    score = account.movement_score
    if score is None:
        return []
    return [f"Movement score {score:.0f} of 100 on average; at 100 nobody could move the voices less."]


def _timing_line(account: Account) -> list[str]:
    """Bias and spread apart: a steady offset is a style, not a fault."""
    mean_ms, spread_ms = account.mean_ms, account.spread_ms
    if mean_ms is None:
        return []
    spread = f", give or take {spread_ms:.0f} ms" if spread_ms is not None else ""
    word = f": {account.steadiness}" if account.steadiness else ""
    return [f"Timing: {offset_words(mean_ms)} on average{spread}{word}."]


def _often_line(plan: Plan, account: Account, verdicts: tuple[Verdict, ...]) -> list[str]:
    """The most frequent fault, with the first chord that had it."""
    if not account.faults:
        return []
    code, count = account.faults[0]
    having = ((fault, verdict) for verdict in verdicts if verdict.attempt == 1 for fault in verdict.faults)
    fault, verdict = next(pair for pair in having if pair[0].code == code)
    noun = _FAULT_NOUNS.get(code) or NAMES.get(code, fault.text)
    where = f"step {verdict.step + 1}{_chord(plan, verdict)}"
    if count == 1:
        return [f"Most often: {noun}, once, at {where}."]
    return [f"Most often: {noun} ({how_often(count)}), for instance at {where}."]


def _next_lines(snapshot: Snapshot) -> list[str]:
    """The one thing to do next: what the loop goes on with, with a hint for what went wrong; else what helps most."""
    advice = _advice(snapshot.plan, snapshot.verdicts, snapshot.account)
    if snapshot.coming:
        coming = f"{capital(snapshot.coming)}."
        return [coming, f"Try this: {advice}."] if advice else [coming]
    return [f"Try next: {advice or _onwards(snapshot)}."]


def _advice(plan: Plan, verdicts: tuple[Verdict, ...], account: Account) -> str:
    """What helps with the weakest chord; empty when all were hits. One late chord is no reason for a slower take."""
    weakest = _weakest(verdicts, account)
    if weakest is None:
        return ""
    verdict, fault = weakest
    advice = _ADVICE.get(fault.code, "play {chord} once more at your own pace") if fault else "play {chord} once more"
    if fault is not None and fault.code in ("late", "early") and dict(account.faults).get(fault.code, 0) < _OFTEN:
        advice = "count aloud into {chord}"
    chord = str(plan.steps[verdict.step].voicing.chord) if verdict.step < len(plan.steps) else "it"
    return advice.format(chord=chord)


def _onwards(snapshot: Snapshot) -> str:
    """All were hits."""
    if snapshot.account.broken_off:
        return "play it through to the end; it was clean as far as it went"
    if not snapshot.account.complete:
        return "play it through without a break; every chord that you played was clean"
    if snapshot.tempo is None:
        click = number(snapshot.plan.drill.tempo)
        return f"the same with the click, at {click} beats a minute, or the next drill"
    return f"the same {_faster(snapshot.tempo)}, or the next drill"


def _weakest(verdicts: tuple[Verdict, ...], account: Account) -> tuple[Verdict, Fault | None] | None:
    """The step with the most trouble in its verdicts, by its newest faulty verdict; None when all were hits. Of steps
    with as much the one with the fault that came most often in this take."""
    trouble: Counter[int] = Counter()
    newest: dict[int, Verdict] = {}
    for verdict in verdicts:
        trouble[verdict.step] += {HIT: 0, NEAR: 1, MISS: 2}[verdict.grade]
        if verdict.grade != HIT:
            newest[verdict.step] = verdict
    if not newest:
        return None
    often = dict(account.faults)

    def weight(step: int) -> tuple[int, int, int]:
        faults = newest[step].faults
        return trouble[step], often.get(faults[0].code, 0) if faults else 0, -step

    worst = newest[max(newest, key=weight)]
    return worst, worst.faults[0] if worst.faults else None


def _chord(plan: Plan, verdict: Verdict) -> str:
    return f" ({plan.steps[verdict.step].voicing.chord})" if verdict.step < len(plan.steps) else ""


def _faster(tempo: float) -> str:
    """A little above the tempo of the take: 5 %, our own choice, just above the 3 % at which a change of tempo is
    noticed (C. Drake and M.-C. Botte, Perception & Psychophysics 54, 1993)."""
    return f"at {number(max(tempo + 1, round(tempo * 1.05)))} beats a minute"
