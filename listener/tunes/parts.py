"""Which part of a file is the melody, and one voice out of what overlaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from listener.errors import SourceError
from listener.music.pitch import Pitch
from listener.safe_text import echo
from listener.tunes.tune import MelodyNote

#: More notes than anybody can practise; a file that has more is taken for a mistake.
MAX_NOTES: Final = 20_000
#: How a choice between several parts is asked for.
SAY_WHICH: Final = "say which one is the melody"
_LISTED: Final = 12


@dataclass(frozen=True, slots=True)
class Sounded:
    """A note as a file has it, before ties are merged. Times in quarter notes."""

    pitch: Pitch
    start_beats: Fraction
    length_beats: Fraction
    ties_on: bool = False

    @property
    def end_beats(self) -> Fraction:
        """When it stops."""
        return self.start_beats + self.length_beats


def shown_name(text: str) -> str:
    """A part's name for one line: nothing that steers a terminal, not too long."""
    return echo(text)


def choose_part(names: Sequence[str], part: str | None, name: str) -> int:
    """The index of the wished part among parts that have notes, by number from 1, by name, or by its beginning.

    :class:`SourceError` lists the parts when the wish is missing, fits none or fits several.
    """
    if part is None:
        if len(names) == 1:
            return 0
        raise SourceError(f"{name} has {len(names)} parts with notes; {SAY_WHICH}: {_listed(names)}")
    wanted = " ".join(part.split()).casefold()
    spelled = [shown_name(one).casefold() for one in names]
    for fits in (
        [index for index, one in enumerate(spelled) if one == wanted],
        [index for index in range(len(names)) if str(index + 1) == wanted],
        [index for index, one in enumerate(spelled) if wanted and one.startswith(wanted)],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            raise SourceError(
                f"{name} has several parts called '{shown_name(part)}'; give the number: {_listed(names)}"
            )
    raise SourceError(f"{name} has no part '{shown_name(part)}'; there is {_listed(names)}")


def _listed(names: Sequence[str]) -> str:
    listed = [f"{index} '{shown_name(one)}'" for index, one in enumerate(names[:_LISTED], start=1)]
    more = [f"and {len(names) - _LISTED} more"] if len(names) > _LISTED else []
    return ", ".join(listed + more)


def no_melody(name: str, *, percussion: bool) -> SourceError:
    """What is said of a file without a part that could be one."""
    if percussion:
        return SourceError(f"{name} holds only percussion; a melody is needed")
    return SourceError(f"{name} holds no notes; is it the right file?")


def one_voice(sounded: Sequence[Sounded], name: str, part: str) -> tuple[MelodyNote, ...]:
    """Ties merged and, of notes that begin together, the highest; a note ends at the latest where the next begins.

    :class:`SourceError` when there is no note in this part of the file.
    """
    if len(sounded) > MAX_NOTES:
        raise SourceError(f"{name} has more than {MAX_NOTES} notes; cut out the tune that is to be practised")
    kept: list[Sounded] = []
    for note in sorted(sounded, key=lambda one: (one.start_beats, -one.pitch.midi)):
        last = kept[-1] if kept else None
        if last is not None and note.start_beats == last.start_beats:
            continue
        if last is not None and _goes_on(last, note):
            length = note.end_beats - last.start_beats
            kept[-1] = replace(last, length_beats=length, ties_on=note.ties_on)
            continue
        if last is not None and last.end_beats > note.start_beats:
            kept[-1] = replace(last, length_beats=note.start_beats - last.start_beats)
        kept.append(note)
    if not kept:
        raise SourceError(f"{name}: the notes of '{shown_name(part)}' have no length; is the file damaged?")
    return tuple(MelodyNote(note.pitch, note.start_beats, note.length_beats) for note in kept)


def _goes_on(last: Sounded, note: Sounded) -> bool:
    """A tie needs only its beginning: some programs forget to mark the end."""
    return last.ties_on and last.pitch.midi == note.pitch.midi and last.end_beats == note.start_beats
