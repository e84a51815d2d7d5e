"""The melody of a Standard MIDI File: one track's, or where there is only one track one channel's, highest line.

MIDI has no note names: they are spelled in the file's key, or in C where it names none. Channel 10 is percussion
(General MIDI). Times are exact fractions of the file's quarter note, nothing is rounded to a grid.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.errors import SourceError
from listener.music.pitch import Pitch, on_line_of_fifths
from listener.music.scale import Key
from listener.smf.reading import MidiFile, TickEvent, in_order, read_smf
from listener.smf.writing import META_NAME
from listener.tunes.parts import Sounded, choose_part, no_melody, one_voice
from listener.tunes.tune import Melody

#: A melody has some thousand bytes; this bounds what a file can cost.
MAX_BYTES: Final = 2 * 1024 * 1024
_PERCUSSION: Final = 9
#: A lower note that begins while a higher one sounds belongs to the tune only if the higher one stops within this part
#: of a quarter note: then the player was slurring, not adding a second voice (our own limit).
_SLUR: Final = Fraction(1, 8)


@dataclass(frozen=True)
class _Part:
    name: str
    events: tuple[TickEvent, ...]


def midi_melody(data: bytes, name: str, part: str | None) -> Melody:
    """See :func:`listener.tunes.melody.read_melody`."""
    if len(data) > MAX_BYTES:
        raise SourceError(f"{name} holds more than {MAX_BYTES >> 20} MB; save the melody's track alone")
    file = read_smf(data, name)
    if file.division & 0x8000:
        raise SourceError(f"{name} counts time in frames and knows no beats; save it with ticks per quarter note")
    parts = _parts(file)
    if not parts:
        raise no_melody(name, percussion=any(map(_is_note_on, file.events)))
    chosen = parts[choose_part([one.name for one in parts], part, name)]
    key = _key(file)
    sounded = _highest(_sounded(chosen.events, file.division, key))
    notes = one_voice(sounded, name, chosen.name)
    return Melody(
        name=name,
        part=chosen.name,
        notes=notes,
        length_beats=notes[-1].end_beats,
        key=key,
        meter=(file.meters[0][1], file.meters[0][2]) if file.meters and file.meters[0][1] else None,
        remarks=tuple(_remarks(file)),
    )


def _remarks(file: MidiFile) -> Iterable[str]:
    if len({meter[1:] for meter in file.meters}) > 1:
        yield "The meter changes on the way."
    if len({key[1:] for key in file.keys}) > 1:
        yield "The key changes on the way; names are spelled in the first."


def _is_note_on(event: TickEvent) -> bool:
    return event[1][0] & 0xF0 == 0x90 and event[1][2] > 0


def _parts(file: MidiFile) -> list[_Part]:
    """Tracks that have notes; where only one has, its channels."""
    tracks: list[_Part] = []
    event_at = text_at = 0
    for number, (events_end, texts_end) in enumerate(file.ends, start=1):
        events = [event for event in file.events[event_at:events_end] if event[1][0] & 0x0F != _PERCUSSION]
        names = [text for _, kind, text in file.texts[text_at:texts_end] if kind == META_NAME]
        event_at, text_at = events_end, texts_end
        if any(map(_is_note_on, events)):
            tracks.append(_Part(_decoded(names[0]) if names else f"track {number}", tuple(events)))
    if len(tracks) != 1:
        return tracks
    events_of: dict[int, list[TickEvent]] = {}
    for event in tracks[0].events:
        events_of.setdefault(event[1][0] & 0x0F, []).append(event)
    channels = {channel: events for channel, events in sorted(events_of.items()) if any(map(_is_note_on, events))}
    if len(channels) == 1:
        return tracks
    return [_Part(f"channel {channel + 1}", tuple(events)) for channel, events in channels.items()]


def _decoded(text: bytes) -> str:
    try:
        return text.decode()
    except UnicodeDecodeError:
        return text.decode("latin-1")


def _key(file: MidiFile) -> Key | None:
    """The first key signature; more than seven signs are none."""
    for _, sharps, minor in sorted(file.keys)[:1]:
        if -7 <= sharps <= 7:
            return Key(on_line_of_fifths(sharps + 3), "minor") if minor else Key(on_line_of_fifths(sharps))
    return None


def spelled(midi: int, key: Key | None) -> Pitch:
    """A name for a note in a key: of those between the lowered third and the raised fifth of its major scale on the
    line of fifths, such as E flat, B flat, F sharp, C sharp and G sharp in C (common practice).

    >>> from listener.music.pitch import Tone
    >>> str(spelled(61, Key(Tone("D", -1)))), str(spelled(68, Key(Tone("A"), "minor")))
    ('Db4', 'G#4')
    """
    lowest = (key.signature if key is not None else 0) - 3
    place = lowest + (7 * midi - lowest) % 12
    return on_line_of_fifths(place).pitch(midi)


def _sounded(events: Sequence[TickEvent], division: int, key: Key | None) -> list[Sounded]:
    """All notes of a part in the order in which they begin; one that is never ended lasts to the part's last event."""
    found: list[tuple[int, int, int]] = []
    open_at: dict[tuple[int, int], deque[int]] = {}
    ordered = in_order(events)
    for tick, data in ordered:
        which = (data[0] & 0x0F, data[1] if len(data) > 1 else 0)
        if _is_note_on((tick, data)):
            open_at.setdefault(which, deque()).append(tick)
        elif data[0] & 0xF0 in (0x80, 0x90) and open_at.get(which):
            found.append((open_at[which].popleft(), tick, data[1]))
    last = ordered[-1][0] if ordered else 0
    found += [(begun, last, midi) for (_, midi), begins in open_at.items() for begun in begins]
    names = {midi: spelled(midi, key) for _, _, midi in found}
    return [
        Sounded(names[midi], Fraction(begun, division), Fraction(ended - begun, division))
        for begun, ended, midi in sorted(found)
        if ended > begun
    ]


def _highest(sounded: Sequence[Sounded]) -> list[Sounded]:
    """The line on top: a note below one that goes on sounding is another voice."""
    kept: list[Sounded] = []
    for note in sorted(sounded, key=lambda one: (one.start_beats, -one.pitch.midi)):
        if kept and kept[-1].pitch.midi > note.pitch.midi:
            still = kept[-1].end_beats - note.start_beats
            if note.start_beats == kept[-1].start_beats or still > min(_SLUR, note.length_beats / 2):
                continue
        kept.append(note)
    return kept
