"""Real music through the whole chain: chorales by J. S. Bach (music21's corpus), rendered to MIDI files as strokes.

Every quarter note on which all four voices sound is a stroke, read from a Standard MIDI File and heard without a drill:
every second piece struck afresh on each beat, the others with common tones held over. The movement of each change is
compared with what the score says, chord by chord, and with totals counted elsewhere (chorales_beat_totals.csv).
"""

from __future__ import annotations

import csv
import io
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.judging.free.free import hear_freely

corpus = pytest.importorskip("music21.corpus")
mido = pytest.importorskip("mido")
optimize = pytest.importorskip("scipy.optimize")

TABLE = Path(__file__).parents[1] / "tables" / "chorales_beat_totals.csv"
QUICK = ("bwv269", "bwv66.6", "bwv347", "bwv153.1", "bwv65.2")
#: One beat in ticks and seconds; files without a tempo run at 120 beats a minute (SMF 1.1).
TICKS, BEAT_S = 480, 0.5

#: Beat number and the four sounding notes, soprano to bass.
Slice = tuple[int, tuple[int, ...]]


def rows() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {row["bwv"]: row for row in csv.DictReader(file)}


def slices_of(piece: str) -> list[Slice]:
    """Straight from the score: what sounds on each quarter note, where all four voices do."""
    score = corpus.parse(f"bach/{piece}")
    voices = []
    for part in score.parts:
        notes = [(float(n.offset), float(n.offset + n.quarterLength), n.pitch.midi) for n in part.flatten().notes]
        voices.append(notes)
    end = max(stop for notes in voices for _, stop, _ in notes)
    found = []
    for beat in range(int(end) + 1):
        sounding = [[midi for start, stop, midi in notes if start <= beat < stop] for notes in voices]
        if all(sounding):
            found.append((beat, tuple(midi[0] for midi in sounding)))
    return found


def rendered(slices: list[Slice], *, hold: bool, seed: int) -> bytes:
    """A Standard MIDI File written by mido, one channel for each voice: strokes spread over up to 20 ms."""
    random = Random(seed)
    events: list[tuple[int, int, mido.Message]] = []
    ringing: dict[int, int] = {}
    previous = None
    for beat, notes in slices:
        start = beat * TICKS + 100
        kept = set()
        if hold and previous == beat - 1 and any(ringing.get(voice) != note for voice, note in enumerate(notes)):
            kept = {voice for voice, note in enumerate(notes) if ringing.get(voice) == note}
        for voice, note in enumerate(notes):
            if voice in kept:
                continue
            if voice in ringing:
                end = start - 60 if previous == beat - 1 else previous * TICKS + 400
                events.append((end, 0, mido.Message("note_off", channel=voice, note=ringing[voice])))
            ringing[voice] = note
            spread = random.randrange(0, 20)
            events.append((start + spread, 1, mido.Message("note_on", channel=voice, note=note, velocity=80)))
        previous = beat
    events += [(previous * TICKS + 400, 0, mido.Message("note_off", channel=v, note=n)) for v, n in ringing.items()]
    file, track = mido.MidiFile(type=0, ticks_per_beat=TICKS), mido.MidiTrack()
    file.tracks.append(track)
    now = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def cheapest(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    """The least total over all pairings, found by scipy: an oracle that knows nothing of ranks."""
    costs = [[abs(a - b) for b in after] for a in before]
    chosen = optimize.linear_sum_assignment(costs)
    return sum(costs[i][j] for i, j in zip(*chosen, strict=True))


def check(piece: str, number: int) -> tuple[int, int]:
    """One piece; changes, and those of them whose every slice has four different pitches."""
    slices = slices_of(piece)
    data = rendered(slices, hold=bool(number % 2), seed=number)
    pickup = make_pickup("per-string")
    heard = hear_freely(read_take(data, piece), pickup).chords
    assert [chord.pitches for chord in heard] == [tuple(sorted(set(notes))) for _, notes in slices], piece
    changes = full = 0
    crossed = False
    total = by_voices = 0
    for (beat, before), (next_beat, after), chord in zip(slices, slices[1:], heard[1:], strict=False):
        if next_beat != beat + 1:
            continue
        changes += 1
        moved = chord.movement
        assert moved is not None
        sung = sum(abs(b - a) for a, b in zip(before, after, strict=True))
        by_voices += sung
        if len(set(before)) == len(set(after)):
            least = cheapest(tuple(set(before)), tuple(set(after)))
            assert moved.semitones == least, (piece, beat)
        if len(set(before)) == len(set(after)) == 4:
            full += 1
            total += moved.semitones
            assert moved.semitones <= sung
            crossed = crossed or moved.semitones < sung
        else:
            crossed = True
    row = rows()[piece]
    assert (changes, by_voices) == (int(row["changes"]), int(row["total"])), piece
    if not crossed:
        assert total == int(row["total"]), piece
    return changes, full


@pytest.mark.parametrize(("number", "piece"), list(enumerate(QUICK)))
def test_movement_of_five_chorales(number: int, piece: str) -> None:
    """Every stroke is heard as it stands in the score, and every change moves as far."""
    changes, full = check(piece, number)
    assert full > 0.5 * changes


@pytest.mark.slow
def test_movement_of_all_chorales() -> None:
    """All 331 four-part chorales: 16,946 changes, five of six with four different pitches on both sides."""
    pieces = [name for name, row in rows().items() if row["in_population"] == "1"]
    assert len(pieces) == 331
    counts = [check(piece, number) for number, piece in enumerate(pieces)]
    assert sum(changes for changes, _ in counts) == sum(int(rows()[piece]["changes"]) for piece in pieces)
    assert sum(full for _, full in counts) > 0.8 * sum(changes for changes, _ in counts)


def test_two_pieces_slice_by_slice() -> None:
    """The slices taken here are those of the tables that other tests use (slices_*.csv)."""
    for piece in ("bwv269", "bwv66.6"):
        with (TABLE.parent / f"slices_{piece}.csv").open(encoding="utf-8", newline="") as file:
            table = [tuple(int(row[voice]) for voice in "SATB") for row in csv.DictReader(file)]
        ours = slices_of(piece)
        assert [notes for _, notes in ours] == table
        assert all(b - a == 1 for (a, _), (b, _) in pairwise(ours))
