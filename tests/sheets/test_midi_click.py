"""The click in a plan's MIDI file: one stroke for each beat, on the percussion channel, and nothing else changed."""

from __future__ import annotations

import io

import mido
import pytest
from sheet_plans import COURSE_IN_PARTS, course_plan, make_plan

from listener.planning.plan import Plan
from listener.sheets.midi_file import TICKS, plan_midi


def tracks(plan: Plan, *, click: bool) -> list[mido.MidiTrack]:
    """The tracks as mido reads them."""
    return list(mido.MidiFile(file=io.BytesIO(plan_midi(plan, click=click)), charset="utf-8").tracks)


def strokes(track: mido.MidiTrack) -> list[tuple[int, int, int]]:
    """(tick, key, velocity) of every note-on; all must be on channel 10 (9 on the wire)."""
    now, found = 0, []
    for message in track:
        now += message.time
        if message.type == "note_on":
            assert message.channel == 9
            found.append((now, message.note, message.velocity))
    return found


@pytest.mark.parametrize(
    ("meter", "ticks", "beats"), [((4, 4), TICKS, 12), ((3, 4), TICKS, 9), ((6, 8), TICKS // 2, 12)]
)
def test_every_beat_of_every_bar(meter: tuple[int, int], ticks: int, beats: int) -> None:
    """Also in the rest that fills the last bar; the first beat of a bar is the high block and louder."""
    plan = make_plan([("C", 0, 4), ("F", 4, 4), ("C", 8, 1)], meter=meter)
    found = strokes(tracks(plan, click=True)[2])
    assert [tick for tick, _, _ in found] == [ticks * beat for beat in range(beats)]
    accents = [index for index, (_, key, _) in enumerate(found) if key == 76]
    assert accents == list(range(0, beats, meter[0]))
    assert min(velocity for _, key, velocity in found if key == 76) > max(v for _, key, v in found if key == 77)


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_the_chords_stay_as_they_are(name: str) -> None:
    """With the click there is one track more, and the others are the same."""
    plan = course_plan(name)
    assert tracks(plan, click=True)[:2] == tracks(plan, click=False)


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_pretty_midi_hears_plan_and_click(name: str) -> None:
    """A second reader, pretty_midi: a drum track with a stroke on every beat, and the plan's pitches at its times."""
    pretty_midi = pytest.importorskip("pretty_midi")
    plan = course_plan(name)
    heard = pretty_midi.PrettyMIDI(io.BytesIO(plan_midi(plan, click=True)))
    (drums,) = [part for part in heard.instruments if part.is_drum]
    beat_s = 60 / plan.drill.tempo
    assert [note.start for note in drums.notes] == pytest.approx(
        [n * beat_s for n in range(len(drums.notes))], abs=1e-3
    )
    assert len(drums.notes) % plan.drill.meter[0] == 0
    if any(one.step.pattern is not None for one in plan.steps):
        pytest.skip("a picked chord is written pluck by pluck; test_patterns reads those")
    guitar = sorted((note.pitch, note.start) for part in heard.instruments if not part.is_drum for note in part.notes)
    planned = sorted((pitch, one.step.start_beats * beat_s) for one in plan.steps for pitch in one.fingering.pitches)
    assert [pitch for pitch, _ in guitar] == [pitch for pitch, _ in planned]
    assert [start for _, start in guitar] == pytest.approx([start for _, start in planned], abs=2e-3)


def test_no_plan_no_click() -> None:
    """An empty plan has nothing to click to."""
    assert strokes(tracks(make_plan([]), click=True)[2]) == []
