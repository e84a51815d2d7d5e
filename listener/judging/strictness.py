"""What counts as right for a step, by the drill's degree of strictness.

*exact pitches* wants the planned notes, *same fingering* also their strings (where the pickup tells strings apart),
*same kind and top* any voicing of the planned kind with the planned top note, *same chord* any voicing of the chord.
What is wrong is always explained against the nearest thing that would have been right.
"""

from __future__ import annotations

from collections.abc import Sequence

from listener.hearing.events import Stroke
from listener.judging.match import Comparison, compare
from listener.judging.verdict import GRADES, HIT, NEAR, Fault
from listener.judging.words import other_string
from listener.music.movement import movement
from listener.music.voicing import FULL, KINDS, kinds_of, voicings
from listener.planning.drill import SAME_CHORD, SAME_FINGERING, SAME_KIND
from listener.planning.plan import Plan, PlannedStep

#: How far (semitones) from the planned voicing other voicings of its kind are looked for.
_REACH = 24


class StepTarget:
    """The step's planned voicing and, for the laxer degrees, what else would be right."""

    def __init__(self, planned: PlannedStep, options: Sequence[tuple[int, ...]]) -> None:
        self.planned = planned
        self.options = tuple(options)
        self.pitches = planned.voicing.midi
        self.chord = planned.voicing.chord
        self._strings = dict(zip(planned.fingering.pitches, planned.fingering.strings, strict=True))
        self._allowed: tuple[tuple[int, ...], ...] | None = None

    @property
    def strictness(self) -> str:
        """The word of the drill file."""
        return self.planned.step.strictness

    def judge(self, stroke: Stroke) -> tuple[Comparison, tuple[int, ...], tuple[int, ...]]:
        """The comparison, the pitches that counted, and those of them that only rang on.

        A common tone that still sounds counts as played; a string that merely rings on never counts against.
        """
        struck = stroke.struck_pitches
        if self.strictness in (SAME_KIND, SAME_CHORD):
            return self._judge_freely(struck, stroke.held_pitches)
        held = tuple(note for note in stroke.held_pitches if note in self.pitches)
        heard = tuple(sorted({*struck, *held}))
        comparison = compare(self.chord, self.pitches, heard)
        if self.strictness == SAME_FINGERING and comparison.grade == HIT:
            comparison = self._on_strings(stroke)
        return comparison, heard, held

    def _judge_freely(
        self, struck: tuple[int, ...], held: tuple[int, ...]
    ) -> tuple[Comparison, tuple[int, ...], tuple[int, ...]]:
        ringing = tuple(note for note in held if self.chord.tone_of(note) is not None)
        tries: list[tuple[tuple[int, ...], tuple[int, ...]]] = [((), struck)]
        if ringing:
            tries.append((ringing, tuple(sorted({*struck, *ringing}))))
        judged = [(compare(self.chord, self._nearest(heard), heard), heard, rung) for rung, heard in tries]
        return min(judged, key=lambda one: GRADES.index(one[0].grade))

    def _nearest(self, heard: tuple[int, ...]) -> tuple[int, ...]:
        if self.strictness == SAME_CHORD and self._is_chord(heard):
            return heard
        allowed = self._right_sets()
        if heard in allowed:
            return heard
        return min(allowed, key=lambda notes: (movement(heard, notes).cost, notes != self.pitches, notes))

    def _is_chord(self, heard: tuple[int, ...]) -> bool:
        degrees = {self.chord.degree_of(note) for note in heard}
        quality = self.chord.quality
        needed = {*quality.never, *quality.required} - set(self.planned.step.wish.without)
        bass = self.chord.bass
        if bass is not None and (not heard or heard[0] % 12 != bass.pitch_class):
            return False
        strangers = {note for note in heard[1 if bass is not None else 0 :] if self.chord.degree_of(note) is None}
        return needed <= degrees and not strangers and (bass is not None or None not in degrees)

    def _right_sets(self) -> tuple[tuple[int, ...], ...]:
        if self._allowed is None:
            kind, top = self.planned.voicing.kind, self.pitches[-1]
            found = set(self.options) | {self.pitches}
            if self.strictness == SAME_KIND:
                found = {notes for notes in found if notes[-1] == top and self._same_kind(notes)}
                if kind in KINDS and kind != FULL:
                    near = voicings(
                        self.chord, kind, low=self.pitches[0] - _REACH, high=top, without=self.planned.step.wish.without
                    )
                    found |= {notes for notes in near if notes[-1] == top}
                found.add(self.pitches)
            self._allowed = tuple(sorted(found))
        return self._allowed

    def _same_kind(self, notes: tuple[int, ...]) -> bool:
        return self.planned.voicing.kind in kinds_of(self.chord, notes)

    def _on_strings(self, stroke: Stroke) -> Comparison:
        faults: list[Fault] = []
        for note in (*stroke.struck, *stroke.held):
            planned = self._strings.get(note.pitch)
            if note.string is not None and planned is not None and note.string != planned:
                faults.append(other_string(self.chord, note.pitch, note.string, planned))
        return Comparison(NEAR if faults else HIT, tuple(faults))


def targets(plan: Plan) -> tuple[StepTarget, ...]:
    """One target for every step of a plan."""
    options = plan.options or tuple((planned.voicing.midi,) for planned in plan.steps)
    return tuple(StepTarget(planned, choice) for planned, choice in zip(plan.steps, options, strict=True))
