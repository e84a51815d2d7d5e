"""What was played, before it is a drill: chords with their times, and what was heard that is no chord."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note of a chord: MIDI, and its string (1 is the highest) where the pickup tells strings apart."""

    pitch: int
    string: int | None = None


@dataclass(frozen=True, slots=True)
class PlayedChord:
    """A chord and its times in seconds from the start of the take.

    ``notes`` low to high; ``strokes`` are when it was struck, the first time first (a chord that is struck again and
    again is one chord); ``end_s`` is when nothing of it sounded any more.
    """

    notes: tuple[PlayedNote, ...]
    strokes: tuple[float, ...]
    end_s: float

    @property
    def onset_s(self) -> float:
        """When it was struck first."""
        return self.strokes[0]

    @property
    def pitches(self) -> tuple[int, ...]:
        """MIDI notes, low to high."""
        return tuple(note.pitch for note in self.notes)


@dataclass(frozen=True, slots=True)
class Unclear:
    """Something that did not become a chord of the drill, or not as it was heard: from when to when (seconds), what
    was heard (MIDI), and what is said about it, a clause that goes on after the time."""

    from_s: float
    to_s: float
    heard: tuple[int, ...]
    text: str

    def as_json(self) -> dict[str, object]:
        """An ``unclear`` entry of the document about a drill that was made."""
        return {
            "from_s": round(self.from_s, 3),
            "to_s": round(self.to_s, 3),
            "heard": list(self.heard),
            "text": self.text,
        }
