"""What is played for the practising player: the chord that is due, so that it can be heard, and a bass to play over.

Numbers of General MIDI Level 1, from memory: channel 10 is the percussion, program 34 (33 on the wire) the fingered
electric bass. That the bass goes to channel 2 and the sounding target to channel 1 is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.following.pace import Timetable
from listener.music.chord import Chord
from listener.planning.plan import PlannedStep
from listener.session.sound.outgoing import Note

TARGET_CHANNEL: Final = 1
BASS_CHANNEL: Final = 2
#: Program change that makes the bass channel a fingered electric bass.
BASS_PROGRAM: Final = bytes((0xC0 | (BASS_CHANNEL - 1), 33))
#: Lowest note of a four-string bass, E1: bass notes lie in the octave from here.
_LOWEST_BASS: Final = 28
_BASS_VELOCITY: Final = 84
_TARGET_VELOCITY: Final = 76
#: How long a target sounds and how far apart the notes of a roll are, in seconds (our choice).
_TARGET_S: Final = 1.6
ROLL_GAP_S: Final = 0.12
#: Share of a step that its bass note lasts: it ends before the next one begins (our choice).
_BASS_SHARE: Final = 0.95


def target_notes(planned: PlannedStep, now_s: float, *, roll: bool) -> tuple[Note, ...]:
    """The planned voicing, all at once or as a roll from the lowest note up; a roll ends all together."""
    pitches = sorted(planned.voicing.midi)
    gap_s = ROLL_GAP_S if roll else 0.0
    end_s = now_s + gap_s * (len(pitches) - 1) + _TARGET_S
    return tuple(
        Note(TARGET_CHANNEL, pitch, _TARGET_VELOCITY, now_s + gap_s * number, end_s)
        for number, pitch in enumerate(pitches)
    )


def bass_pitch(chord: Chord) -> int:
    """The chord's bass note, the one after the slash or the root, in the octave from the low E of a bass up."""
    tone = chord.bass if chord.bass is not None else chord.root
    return _LOWEST_BASS + (tone.pitch_class - _LOWEST_BASS) % 12


def bass_notes(steps: Sequence[PlannedStep], timetable: Timetable, first: int, last: int) -> tuple[Note, ...]:
    """The bass note of each chord from step ``first`` to ``last`` (inclusive, from 0), at the click's due times.

    Steps of one chord that follow each other (a melody over it) keep one long note.
    """
    found: list[Note] = []
    for index in range(first, last + 1):
        pitch = bass_pitch(steps[index].voicing.chord)
        due_s = timetable.due_s[index]
        end_s = due_s + _BASS_SHARE * timetable.length_s[index]
        same = index > first and str(steps[index].voicing.chord) == str(steps[index - 1].voicing.chord)
        if same and found:
            held = found[-1]
            found[-1] = Note(BASS_CHANNEL, pitch, _BASS_VELOCITY, held.on_s, end_s)
        else:
            found.append(Note(BASS_CHANNEL, pitch, _BASS_VELOCITY, due_s, end_s))
    return tuple(found)
