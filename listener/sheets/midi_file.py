"""A plan as a Standard MIDI File, to hear the chords or to load them into notation and recording programs.

Format 1 (Standard MIDI Files 1.0): the first track holds title, time signature, tempo, key signature and a marker with
each chord's name, the second the notes, a third the click where it is wanted. As a pickup would send them, each string
has its own channel: string 1 (the highest) is channel 1. Text is UTF-8.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from itertools import groupby
from math import ceil
from operator import attrgetter
from typing import Final, NamedTuple

import mido  # type: ignore[import-untyped]

from listener.errors import MusicError, UsageError
from listener.music.scale import parse_key
from listener.planning.plan import Plan
from listener.sheets.played import sounding

#: Ticks in a quarter note.
TICKS: Final = 480
#: General MIDI's steel-string guitar (25 counted from 1 is the nylon one, 26 this; on the wire they count from 0).
_PROGRAM: Final = 25
#: General MIDI plays drums on channel 10 (9 on the wire); no string may land there.
_DRUMS: Final = 9
#: Keys of General MIDI's percussion map: high and low wood block (from memory), with how loud they are.
_ACCENT: Final = (76, 110)
_BEAT: Final = (77, 80)
#: The largest tempo the file can hold, in microseconds per quarter note (three bytes).
_SLOWEST_US: Final = 0xFF_FF_FF
#: Key signatures as mido names them, from seven flats to seven sharps.
_MAJOR: Final = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR: Final = ("Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m")


class _Span(NamedTuple):
    """A note on a channel (from 0) from tick to tick."""

    channel: int
    pitch: int
    start: int
    end: int
    velocity: int


#: (tick, order within the tick, message); offs come before ons, so that a repeated note is struck again.
_Event = tuple[int, int, mido.Message | mido.MetaMessage]


def plan_midi(plan: Plan, *, click: bool = False) -> bytes:
    """The planned chords as the bytes of a ``.mid`` file.

    UsageError when a file cannot hold the drill's tempo. With ``click`` every beat of every bar sounds, the first of a
    bar louder, on General MIDI's percussion channel.
    """
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_track(plan.drill.title or plan.drill.name, _frame(plan)))
    file.tracks.append(_track("Guitar", _notes(plan)))
    if click:
        file.tracks.append(_track("Click", _click(plan)))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _frame(plan: Plan) -> list[_Event]:
    """Everything but the notes."""
    beats, unit = plan.drill.meter
    beat_clocks = 24 * 4 // unit  # MIDI clocks, 24 to a quarter note
    compound = unit == 8 and beats % 3 == 0 and beats > 3  # 6/8, 9/8, 12/8 click in dotted quarters
    head = [
        mido.MetaMessage(
            "time_signature",
            numerator=beats,
            denominator=unit,
            clocks_per_click=3 * beat_clocks if compound else beat_clocks,
            notated_32nd_notes_per_beat=8,
        ),
        mido.MetaMessage("set_tempo", tempo=_quarter_us(plan.drill.tempo, unit)),
    ]
    signature = _key_signature(plan.drill.key)
    if signature is not None:
        head.append(mido.MetaMessage("key_signature", key=signature))
    markers = [
        (_tick(planned.step.start_beats, unit), 0, mido.MetaMessage("marker", text=str(planned.voicing.chord)))
        for planned in plan.steps
    ]
    return [*((0, 0, message) for message in head), *markers]


def _notes(plan: Plan) -> list[_Event]:
    unit = plan.drill.meter[1]
    spans = [
        _Span(
            _channel(one.string),
            one.pitch,
            *_ticks(one.start_beats, one.end_beats, unit),
            one.velocity,
        )
        for one in sounding(plan, plan.drill.tempo)
    ]
    programs = [
        (0, 0, mido.Message("program_change", channel=channel, program=_PROGRAM))
        for channel in sorted({span.channel for span in spans})
    ]
    events: list[_Event] = []
    for one in _without_overlap(spans):
        on = mido.Message("note_on", channel=one.channel, note=one.pitch, velocity=one.velocity)
        events.append((one.start, 2, on))
        events.append((one.end, 1, mido.Message("note_off", channel=one.channel, note=one.pitch, velocity=64)))
    return [*programs, *events]


def _click(plan: Plan) -> list[_Event]:
    """A wood block on every beat of the meter, to the end of the last bar, for half a beat."""
    beats, unit = plan.drill.meter
    end = max((planned.step.start_beats + planned.step.length_beats for planned in plan.steps), default=0.0)
    bars = ceil(round(end / beats, 6))
    events: list[_Event] = []
    for beat in range(bars * beats):
        key, velocity = _BEAT if beat % beats else _ACCENT
        events.append((_tick(beat, unit), 2, mido.Message("note_on", channel=_DRUMS, note=key, velocity=velocity)))
        events.append((_tick(beat + 0.5, unit), 1, mido.Message("note_off", channel=_DRUMS, note=key, velocity=64)))
    return events


def _without_overlap(spans: Iterable[_Span]) -> list[_Span]:
    """End each note, at the latest, when its string sounds again."""
    cut = []
    in_turn = sorted(set(spans), key=attrgetter("channel", "start"))
    for _, group in groupby(in_turn, key=attrgetter("channel")):
        notes = list(group)
        for note, following in zip(notes, [*notes[1:], None], strict=True):
            end = note.end if following is None else min(note.end, following.start)
            if end > note.start:
                cut.append(note._replace(end=end))
    return cut


def _track(name: str, events: Iterable[_Event]) -> mido.MidiTrack:
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
    now = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track"))
    return track


def _ticks(start_beats: Fraction, end_beats: Fraction, unit: int) -> tuple[int, int]:
    start = _tick(start_beats, unit)
    return start, max(start + 1, _tick(end_beats, unit))


def _tick(beats: float | Fraction, unit: int) -> int:
    return round(beats * TICKS * 4 / unit)


def _quarter_us(tempo: float, unit: int) -> int:
    """Microseconds per quarter note, which is what the file's tempo counts, whatever the meter's beat is."""
    slowest = 60_000_000 * unit / 4 / _SLOWEST_US
    if not slowest <= tempo <= 1000:
        raise UsageError(f"a MIDI file cannot hold a tempo of {tempo:g}; use {slowest:.0f} to 1000 beats a minute")
    return min(_SLOWEST_US, round(60_000_000 / tempo * unit / 4))


def _key_signature(key: str) -> str | None:
    """mido's name for a key's signature; None for what has none, which is then left out of the file."""
    try:
        parsed = parse_key(key)
    except MusicError:
        return None
    if not -7 <= parsed.signature <= 7:
        return None
    return (_MINOR if parsed.mode == "minor" else _MAJOR)[parsed.signature + 7]


def _channel(string: int) -> int:
    """The channel of a string as it goes over the wire, from 0; the drums' channel is passed over."""
    channel = string - 1
    return channel if channel < _DRUMS else (channel + 1) % 16
