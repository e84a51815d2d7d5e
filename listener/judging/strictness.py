"""What counts as right for a step, by the drill's degree of strictness.

*exact pitches* wants the planned notes, *same fingering* also their strings (where the pickup tells strings apart),
*same kind and top* any voicing of the planned kind with the planned top note, *same chord* any voicing of the chord.
What is wrong is explained against the nearest thing that would have been right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from listener.drill.drill import SAME_CHORD, SAME_FINGERING, SAME_KIND
from listener.hearing.events import Stroke
from listener.judging.chord_only import compare_chord
from listener.judging.match import Comparison, compare, grade
from listener.judging.verdict import GRADES, HIT, NEAR, Fault
from listener.judging.words import ChordWords
from listener.music.movement import movement
from listener.music.pitch import Tone
from listener.music.voicing import FULL, KINDS, kinds_of, voicings
from listener.planning.plan import Plan, PlannedStep

#: How far (semitones) from the planned voicing other voicings of its kind are looked for.
_REACH = 24

#: A comparison, the pitches that counted, and those of them that only rang on.
Judged = tuple[Comparison, tuple[int, ...], tuple[int, ...]]


class StepTarget:
    """The step's planned voicing and, for the laxer degrees, what else would be right."""

    def __init__(self, planned: PlannedStep, options: Sequence[tuple[int, ...]]) -> None:
        self.planned = planned
        self.options = tuple(options)
        self.pitches = planned.voicing.midi
        self.chord = planned.voicing.chord
        self._words = ChordWords(self.chord, _added_tones(planned))
        self._strings: dict[int, list[int]] = {}
        for pitch, string in zip(planned.fingering.pitches, planned.fingering.strings, strict=True):
            self._strings.setdefault(pitch, []).append(string)
        self._allowed: tuple[tuple[int, ...], ...] | None = None

    @property
    def strictness(self) -> str:
        """The word of the drill file."""
        return self.planned.step.strictness

    def name(self, pitch: int) -> str:
        """A note's name as this step spells it."""
        return self._words.name(pitch)

    def judge(self, stroke: Stroke) -> Judged:
        """The comparison, the pitches that counted, and those of them that only rang on.

        A common tone that still sounds counts as played; a string that merely rings on never counts against.
        """
        struck = stroke.struck_pitches
        if self.planned.step.free_voicing:
            return self._judge_freely(struck, stroke.held_pitches)
        held = tuple(note for note in stroke.held_pitches if note in self.pitches)
        heard = tuple(sorted({*struck, *held}))
        comparison = self._compare(self.pitches, heard)
        if self.strictness == SAME_FINGERING and comparison.grade == HIT:
            comparison = self._on_strings(stroke)
        return comparison, heard, held

    def grade(self, stroke: Stroke) -> str:
        """The grade that :meth:`judge` would give, without its reasons: to ask which step a stroke was meant for."""
        if self.planned.step.free_voicing:
            return self.judge(stroke)[0].grade
        held = (note for note in stroke.held_pitches if note in self.pitches)
        found = grade(self.pitches, (*stroke.struck_pitches, *held))
        if found == HIT and self.strictness == SAME_FINGERING:
            return self._on_strings(stroke).grade
        return found

    def _compare(self, target: tuple[int, ...], heard: tuple[int, ...]) -> Comparison:
        return compare(self.chord, target, heard, self._words.added)

    # Any voicing of a kind or chord --------------------------------------------------------------------------

    def _judge_freely(self, struck: tuple[int, ...], held: tuple[int, ...]) -> Judged:
        best: Judged | None = None
        for rung in self._may_belong(struck, held):
            heard = tuple(sorted({*struck, *rung}))
            judged = (self._as_chord(heard) if self.strictness == SAME_CHORD else self._as_kind(heard), heard, rung)
            if best is None or GRADES.index(judged[0].grade) < GRADES.index(best[0].grade):
                best = judged
            if best[0].grade == HIT:
                break
        assert best is not None  # plucked notes alone are always tried
        return best

    def _may_belong(self, struck: tuple[int, ...], held: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """Which ringing notes to count in, likeliest first: none, those of the plan, those of another right voicing,
        all tones of the chord, and those above the plucked bass."""
        ringing = tuple(note for note in held if self.chord.tone_of(note) is not None or note in self.pitches)
        tried: set[tuple[int, ...]] = set()
        choices = [(), tuple(note for note in ringing if note in self.pitches)]
        if ringing and self.strictness == SAME_KIND:
            everything = {*struck, *ringing}
            fits = (notes for notes in self._right_sets() if set(struck) <= set(notes) <= everything)
            choices += [tuple(note for note in ringing if note in notes) for notes in fits]
        choices += [ringing, tuple(note for note in ringing if struck and note > struck[0])]
        for choice in choices:
            if choice not in tried:
                tried.add(choice)
                yield choice

    def _as_chord(self, heard: tuple[int, ...]) -> Comparison:
        """Against the chord; the planned tones are the chord too, over its slash bass."""
        if heard == self.pitches:
            return Comparison(HIT, ())
        if not heard:
            return self._compare(self.pitches, heard)
        if {note % 12 for note in heard} == {note % 12 for note in self.pitches} and self._bass_is_right(heard):
            return Comparison(HIT, ())
        wish = self.planned.step.wish
        if wish.exact is not None:
            return self._compare(self._nearest(heard, (self.pitches,)), heard)
        quality = self.chord.quality
        return compare_chord(self._words, heard, {*quality.never, *quality.required} - set(wish.without))

    def _bass_is_right(self, heard: tuple[int, ...]) -> bool:
        return self.chord.bass is None or heard[0] % 12 == self.chord.bass.pitch_class

    def _as_kind(self, heard: tuple[int, ...]) -> Comparison:
        allowed = self._right_sets()
        return Comparison(HIT, ()) if heard in allowed else self._compare(self._nearest(heard, allowed), heard)

    def _nearest(self, heard: tuple[int, ...], allowed: Sequence[tuple[int, ...]]) -> tuple[int, ...]:
        return min(allowed, key=lambda notes: (movement(heard, notes).cost, notes != self.pitches, notes))

    def _right_sets(self) -> tuple[tuple[int, ...], ...]:
        """All pitch sets of the planned kind with the planned top note: what the hand can play, and what it might."""
        if self._allowed is None:
            kind, top = self.planned.voicing.kind, self.pitches[-1]
            kinds = self._kinds(self.pitches)
            found = {notes for notes in self.options if notes[-1] == top and set(kinds) & set(self._kinds(notes))}
            if kind in KINDS and kind != FULL and self.chord.tone_of(top) is not None:
                without = self.planned.step.wish.without
                near = voicings(self.chord, kind, low=self.pitches[0] - _REACH, high=top, without=without)
                found |= {notes for notes in near if notes[-1] == top}
            self._allowed = tuple(sorted({*found, self.pitches}))
        return self._allowed

    def _kinds(self, notes: tuple[int, ...]) -> tuple[str, ...]:
        """The planned kind where these notes have it, otherwise their own; an added melody note is left out."""
        own = tuple(note for note in notes if self.chord.tone_of(note) is not None)
        kinds = kinds_of(self.chord, own)
        return (self.planned.voicing.kind,) if self.planned.voicing.kind in kinds else kinds

    # The same strings ----------------------------------------------------------------------------------------

    def _on_strings(self, stroke: Stroke) -> Comparison:
        """All pitches are right; whether they sounded on the planned strings, top and bass first."""
        faults: list[tuple[int, Fault]] = []
        played: dict[int, list[int]] = {}
        for note in (*stroke.struck, *stroke.held):
            if note.string is not None and note.pitch in self._strings:
                played.setdefault(note.pitch, []).append(note.string)
        for pitch, strings in sorted(played.items(), reverse=True):
            planned = self._strings[pitch]
            elsewhere = [string for string in strings if string not in planned]
            rank = 0 if pitch == self.pitches[-1] else 1 if pitch == self.pitches[0] else 2
            if len(elsewhere) == len(strings):
                faults.append((rank, self._words.other_string(pitch, elsewhere[0], planned[0])))
            elif not set(planned) <= set(strings):
                faults.append((rank, self._words.lone_string(pitch, sorted(set(strings) & set(planned)), planned)))
        faults.sort(key=lambda entry: entry[0])
        return Comparison(NEAR if faults else HIT, tuple(fault for _, fault in faults))


def _added_tones(planned: PlannedStep) -> tuple[Tone, ...]:
    """Spelled tones of the voicing that are foreign to its chord."""
    voicing = planned.voicing
    return tuple(pitch.tone for pitch in voicing.pitches if voicing.chord.tone_of(pitch.midi) is None)


def targets(plan: Plan) -> tuple[StepTarget, ...]:
    """One target for every step of a plan."""
    options = plan.options or tuple((planned.voicing.midi,) for planned in plan.steps)
    return tuple(StepTarget(planned, choice) for planned, choice in zip(plan.steps, options, strict=True))
