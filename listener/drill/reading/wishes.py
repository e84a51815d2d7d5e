"""From a chord and the fields of its passage to a wish.

What contradicts itself for a chord, whatever the neck, is reported here; what only the neck forbids is for the
planner to say.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from listener.drill.drill import NoteWish, Wish
from listener.drill.exercises.spots import Spot
from listener.drill.reading.fields import Table
from listener.drill.reading.top_line import RELATIVE, LinePlan, line_for, own_degree
from listener.drill.reading.wish_fields import KIND_SIZE, WishFields
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import Pitch, parse_pitch
from listener.music.voicing import ANY, CLOSE, SHELL, inversion_of, tone_sets
from listener.plain_words import listed

_THIRDS: Final = {"3", "b3", "4", "2"}
_SEVENTHS: Final = {"7", "b7", "bb7", "6"}
_NUMBERS: Final = {3: "three", 4: "four"}


class WishMaker:
    """Makes the wishes of one passage, and reports what cannot be."""

    def __init__(self, table: Table, fields: WishFields) -> None:
        self.table = table
        self.fields = fields
        self._left_somewhere: set[str] = set()
        self._faults: dict[tuple[int, str], list[str]] = {}

    def wish(self, spot: Spot) -> Wish:
        """The wish for a chord. What the exercise has settled in the spot goes before the fields of the passage.

        The chord's own contradictions are reported on the line where it stands in the file.
        """
        kinds = self.fields.kinds_at(spot.place)
        voices = self.fields.voices_at(spot.place) if spot.size is None else spot.size
        entry = spot.place if spot.entry is None else spot.entry
        chord = self._over_pedal(spot.chord, entry)
        without = tuple(dict.fromkeys((*self._left_out(chord), *spot.without)))
        inversion = self.fields.inversion if spot.inversion is None else spot.inversion
        if spot.exact is None:
            self._check_kinds(chord, kinds, without, voices, spot.line)
            self._check_bass(chord, spot.line, inversion)
        top = spot.top if spot.top is not None else self._line(self.fields.top, chord, entry)
        bottom = self._bottom(chord, entry)
        self._check_lines(top, bottom, spot, entry)
        return Wish(
            chord=chord,
            kinds=kinds,
            top=top,
            bottom=bottom,
            inversion=inversion,
            without=without,
            size=voices,
            strings=self.fields.strings,
            frets=self.fields.frets,
            open_strings=self.fields.open_strings,
            added_top=spot.added_top,
            exact=spot.exact,
            exact_strings=spot.exact_strings,
            spelling=spot.spelling,
        )

    def motions(self, spot: Spot) -> tuple[str | None, str | None]:
        """How top and bottom line go on from the spot before."""
        return (
            spot.top_motion or _motion(self.fields.top if spot.top is None else None, spot),
            spot.bottom_motion or _motion(self.fields.bottom, spot),
        )

    def finish(self) -> None:
        """Report what chords of the passage have in common: tones that none of them has, kinds that do not fit them."""
        for (line, fault), chords in self._faults.items():
            self.table.report.add_at(line, f"{_listed(chords)} {'has' if len(chords) == 1 else 'have'} {fault}")
        for text in self.fields.without:
            if text not in self._left_somewhere:
                self.table.wrong("without", f"names {text}, but no chord of this passage has one")

    def _line(self, plan: LinePlan | None, chord: Chord, place: int) -> NoteWish:
        if plan is None:
            return NoteWish()
        entry = plan.entry(place)
        try:
            return line_for(entry.text, chord)
        except MusicError as error:
            self.table.report.add_at(entry.line, f"'{plan.field}': {error}")
            return NoteWish()

    def _bottom(self, chord: Chord, place: int) -> NoteWish:
        pedal = self._pedal(place)
        if pedal is not None and chord.bass is not None and chord.bass.pitch_class != pedal.tone.pitch_class:
            at = self.fields.bottom.entry(place).line if self.fields.bottom is not None else 0
            self.table.report.add_at(at, f"'bottom': {chord} has a bass of its own above the pedal {pedal}")
            return NoteWish()
        line = self._line(self.fields.bottom, chord, place)
        if self.fields.bottom is not None and chord.bass is not None:
            wanted = _pitch_class(line, chord)
            if wanted not in (None, chord.bass.pitch_class):
                entry = self.fields.bottom.entry(place)
                self.table.report.add_at(entry.line, f"'bottom' asks for {line}, but {chord} has {chord.bass} there")
        return line

    def _pedal(self, place: int) -> Pitch | None:
        """The pedal under a chord; None when there is none, or one that cannot be read (reported with its line)."""
        entry = self.fields.bottom.entry(place) if self.fields.bottom is not None else None
        if entry is None or not entry.pedal:
            return None
        try:
            return parse_pitch(entry.text)
        except MusicError:
            return None

    def _over_pedal(self, chord: Chord, place: int) -> Chord:
        """The chord over a pedal that it does not have: a slash chord."""
        pedal = self._pedal(place)
        if pedal is None or chord.bass is not None or pedal.tone.pitch_class in chord.pitch_classes:
            return chord
        return replace(chord, bass=pedal.tone, written=chord.written and f"{chord.written}/{pedal.tone}")

    def _check_lines(self, top: NoteWish, bottom: NoteWish, spot: Spot, place: int) -> None:
        """Complain about a top note that does not lie above the bottom note."""
        if top.pitch is None or bottom.pitch is None or bottom.pitch.midi < top.pitch.midi:
            return
        plan = self.fields.top if spot.top is None and self.fields.top is not None else self.fields.bottom
        line = plan.entry(place).line if plan is not None else spot.line
        self.table.report.add_at(line, f"top note {top.pitch} does not lie above the bottom note {bottom.pitch}")

    def _left_out(self, chord: Chord) -> tuple[str, ...]:
        """The tones of this chord that ``without`` names; a chord that has no such tone has nothing to leave out."""
        found = []
        for text in self.fields.without:
            try:
                found.append(own_degree(chord, text))
            except MusicError:
                continue
            self._left_somewhere.add(text)
        try:
            next(tone_sets(chord, without=found), None)
        except MusicError as error:
            self.table.wrong("without", f"cannot be met: {error}")
            return ()
        return tuple(found)

    def _check_kinds(
        self, chord: Chord, kinds: tuple[str, ...], without: tuple[str, ...], voices: int | None, line: int
    ) -> None:
        """Complain when none of the alternatives fits the number of tones."""
        faults = [_kind_fault(chord, kind, without, voices) for kind in kinds]
        if all(faults):
            chords = self._faults.setdefault((line, str(faults[0])), [])
            if str(chord) not in chords:
                chords.append(str(chord))

    def _check_bass(self, chord: Chord, line: int, inversion: int | None) -> None:
        if inversion is None:
            return
        degrees = chord.quality.degrees
        if inversion >= len(degrees):
            self.table.wrong("inversion", f"is {inversion}, but {chord} has only 0 to {len(degrees) - 1}")
        elif chord.bass is not None and inversion_of(chord, chord.bass.pitch_class) != inversion:
            self.table.report.add_at(line, f"'inversion' is {inversion}, but {chord} has {chord.bass} in the bass")


def _motion(plan: LinePlan | None, spot: Spot) -> str | None:
    """The motion that a line has at this spot: none where it begins anew, and a chord struck again stands still."""
    if plan is None:
        return None
    word = plan.entry(spot.place if spot.entry is None else spot.entry).motion
    if spot.fresh and word in RELATIVE:
        return None
    return "same" if spot.again and word in ("up", "down") else word


def _kind_fault(chord: Chord, kind: str, without: tuple[str, ...], voices: int | None) -> str | None:
    """What stands against this kind, to be read after "C has"; None when nothing does."""
    foreign = chord.bass is not None and inversion_of(chord, chord.bass.pitch_class) is None
    size = KIND_SIZE.get(kind)
    degrees = set(chord.quality.degrees)
    if kind == SHELL and not (degrees & _THIRDS and degrees & _SEVENTHS):
        return "no shell voicing: that takes a third and a seventh (or sixth)"
    if kind != SHELL and size is not None and not _can_have(chord, size, without):
        least = min(len(tones) for tones in tone_sets(chord, None, without))
        how = "more" if least > size else "fewer"
        return f"{how} tones than a {kind} voicing, which takes {_NUMBERS[size]}"
    if voices is not None and size is not None and voices != size + foreign:
        return f"{size + foreign} notes in a {kind} voicing, but 'voices' is {voices}"
    if voices is not None and kind in (CLOSE, ANY) and not _can_have(chord, voices - foreign, without):
        return f"no voicing of {voices} different tones, but 'voices' is {voices}"
    return None


def _can_have(chord: Chord, size: int, without: tuple[str, ...]) -> bool:
    return next(tone_sets(chord, size, without), None) is not None


def _listed(names: list[str]) -> str:
    """``C``, ``C and F``, ``C, F and G``; from five on only the first ones and a count."""
    if len(names) > 4:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return listed(names)


def _pitch_class(line: NoteWish, chord: Chord) -> int | None:
    if line.pitch is not None:
        return line.pitch.midi % 12
    return chord.root.at(line.degree).pitch_class if line.degree is not None else None
