"""What the program makes heard: bass in time, the target on request, and every note ended however a take ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.following.pace import Anchor, Timetable
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.music.chord import parse_chord
from listener.planning.plan import Plan
from listener.session.sound.backing import BASS_PROGRAM, ROLL_GAP_S, bass_notes, bass_pitch, target_notes
from listener.session.sound.sounds import Sounds
from listener.session.take.clock import JumpingClock
from listener.session.take.practice import LEAD_S, Practice, TakeSettings
from listener.session.take.run import Interrupt, run_take
from listener.session.take.state import Snapshot

SINGLE = replace(make_pickup("single"), delay_periods=0.0)
VERSE = [("C", (48, 55, 64)), ("F/A", (57, 60, 65)), ("G7", (55, 62, 71)), ("G7", (55, 62, 74))]


class Output:
    """A MIDI output that remembers what it got and when; it can break."""

    def __init__(self, clock: JumpingClock | None = None, breaks_after: int = 1 << 30) -> None:
        self.sent: list[tuple[float, bytes]] = []
        self._clock = clock
        self._left = breaks_after

    def send(self, data: bytes) -> None:
        if not self._left:
            raise SourceError("the MIDI output 'x' does not take messages: gone")
        self._left -= 1
        self.sent.append((self._clock.now() if self._clock else 0.0, data))

    def sounding(self) -> set[tuple[int, int]]:
        """Channel and pitch of what hangs."""
        found: set[tuple[int, int]] = set()
        for _, data in self.sent:
            key = (data[0] & 0x0F, data[1])
            if data[0] & 0xF0 == 0x90:
                found.add(key)
            elif data[0] & 0xF0 == 0x80:
                found.discard(key)
        return found

    def of(self, channel: int) -> list[tuple[float, int]]:
        """Times and pitches of the note-ons of a channel, counted from 1."""
        return [(time_s, data[1]) for time_s, data in self.sent if data[0] == 0x90 | channel - 1]


class Silence:
    """A source with nothing in it, that never runs out."""

    finished = False

    def poll(self) -> list[Message]:
        return []

    def wait(self, timeout_s: float) -> None:
        raise AssertionError("the jumping clock does not wait")


class Keys:
    """Keys pressed at given moments of the clock."""

    def __init__(self, clock: JumpingClock, pressed: list[tuple[float, str]]) -> None:
        self._clock = clock
        self._pressed = sorted(pressed)

    def read(self) -> list[str]:
        found = []
        while self._pressed and self._pressed[0][0] <= self._clock.now():
            found.append(self._pressed.pop(0)[1])
        return found


class Screen:
    """Remembers the last snapshot."""

    def __init__(self) -> None:
        self.notes: list[str] = []

    def show(self, snapshot: Snapshot) -> None:
        self.notes.append(snapshot.note)


def run(
    plan: Plan, pressed: list[tuple[float, str]], *, tempo: float | None = 60.0, broken: int = 1 << 30
) -> tuple[Output, Output, Screen]:
    """One take with the backing, and what was sent to the click's and the target's output."""
    clock = JumpingClock()
    click, target, screen = Output(clock, broken), Output(clock), Screen()
    run_take(
        Practice(plan, SINGLE, TakeSettings(tempo=tempo, count_in_bars=1)),
        Silence(), clock, start_s=0.0, screen=screen, keys=Keys(clock, pressed), recorder=None,
        interrupt=Interrupt(), sounds=Sounds(click, target, backing=True, roll=True),
    )  # fmt: skip
    return click, target, screen


@pytest.mark.parametrize(
    ("symbol", "pitch"),
    [("E", 28), ("F", 29), ("G", 31), ("A", 33), ("C", 36), ("Eb", 39), ("D#7", 39), ("C/E", 28), ("Am7/G", 31)],
)
def test_bass_notes(symbol: str, pitch: int) -> None:
    """The note after the slash or the root, from the open low string of a bass (E1 = 28) to E flat above."""
    assert bass_pitch(parse_chord(symbol)) == pitch


def test_the_bass_falls_on_the_steps(make_plan: Callable[..., Plan]) -> None:
    """Two beats at 60 for each step; the two steps of one chord keep one note; every end comes before the next."""
    plan = make_plan(VERSE)
    timetable = Timetable([planned.step for planned in plan.steps], Anchor(0, 4.0, 60.0))
    found = bass_notes(plan.steps, timetable, 0, 3)
    assert [(note.on_s, note.pitch, note.channel) for note in found] == [(4.0, 36, 2), (6.0, 33, 2), (8.0, 31, 2)]
    assert [round(note.off_s, 3) for note in found] == [5.9, 7.9, 11.9]
    assert [note.pitch for note in bass_notes(plan.steps, timetable, 1, 2)] == [33, 31]


def test_the_target_at_once_and_as_a_roll(make_plan: Callable[..., Plan]) -> None:
    """All planned notes on channel 1; a roll goes from the lowest up and ends together."""
    planned = make_plan(VERSE).steps[1]
    assert {(note.pitch, note.on_s) for note in target_notes(planned, 3.0, roll=False)} == {
        (57, 3.0), (60, 3.0), (65, 3.0),
    }  # fmt: skip
    rolled = target_notes(planned, 3.0, roll=True)
    assert [(note.channel, note.pitch) for note in rolled] == [(1, 57), (1, 60), (1, 65)]
    assert [note.on_s for note in rolled] == [3.0, 3.0 + ROLL_GAP_S, 3.0 + 2 * ROLL_GAP_S]
    assert len({note.off_s for note in rolled}) == 1


def test_backing_in_time(make_plan: Callable[..., Plan]) -> None:
    """Click on channel 10 at every beat, bass on channel 2 at every chord, its sound chosen first, all ended."""
    click, target, _ = run(make_plan(VERSE), [])
    first = LEAD_S + 4.0
    assert [pitch for _, pitch in click.of(2)] == [36, 33, 31]
    assert all(
        abs(time_s - due) < 0.002 for (time_s, _), due in zip(click.of(2), (first, first + 2, first + 4), strict=True)
    )
    beats = click.of(10)
    assert len(beats) == 12
    assert all(abs(time_s - (LEAD_S + number)) < 0.002 for number, (time_s, _) in enumerate(beats))
    programs = [data for _, data in click.sent if data[0] & 0xF0 == 0xC0]
    assert programs == [BASS_PROGRAM]
    assert not click.sounding()
    assert not target.sent


def test_the_target_is_heard_and_not_judged(make_plan: Callable[..., Plan]) -> None:
    """The chord that is due sounds on request; nothing of it is taken for what was played."""
    clock = JumpingClock()
    target = Output(clock)
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=None))
    run_take(
        practice, Silence(), clock, start_s=0.0, screen=Screen(), recorder=None, interrupt=Interrupt(),
        keys=Keys(clock, [(1.0, "target"), (1.5, "target"), (9.0, "quit")]), sounds=Sounds(None, target, roll=True),
    )  # fmt: skip
    assert [pitch for _, pitch in target.of(1)] == [48, 55, 64] * 2
    assert not target.sounding()
    assert not practice.verdicts
    assert not practice.take().messages


def test_a_pause_is_silent(make_plan: Callable[..., Plan]) -> None:
    """Paused in the middle of a bass note: it ends then, and comes again after the next count-in."""
    click, _, _ = run(make_plan(VERSE), [(5.0, "pause"), (20.0, "pause")])
    ends = [time_s for time_s, data in click.sent if data[0] == 0x81]
    assert abs(ends[0] - 5.0) < 0.03
    assert not any(5.05 < time_s < 20.0 for time_s, _ in click.sent)
    assert [pitch for _, pitch in click.of(2)] == [36, 36, 33, 31]
    assert not click.sounding()


moments = st.tuples(st.floats(0.0, 14.0), st.sampled_from(["pause", "next", "target", "again", "quit", "faster"]))


@settings(max_examples=60, deadline=None)
@given(st.lists(moments, max_size=6))
def test_nothing_ever_hangs(make_plan: Callable[..., Plan], pressed: list[tuple[float, str]]) -> None:
    """Whatever keys end the take or break into it, no note of either output goes on sounding."""
    click, target, _ = run(make_plan(VERSE), [*pressed, (60.0, "quit")])
    assert not click.sounding()
    assert not target.sounding()


def test_an_error_ends_the_notes_too(make_plan: Callable[..., Plan]) -> None:
    """Should the loop itself break, what sounds is ended all the same."""
    clock = JumpingClock()
    click = Output(clock)

    class Breaks(Screen):
        def show(self, snapshot: Snapshot) -> None:
            if click.of(2):
                raise RuntimeError("a bug")

    with pytest.raises(RuntimeError, match="a bug"):
        run_take(
            Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0)), Silence(), clock, start_s=0.0,
            screen=Breaks(), keys=Keys(clock, []), recorder=None, interrupt=Interrupt(),
            sounds=Sounds(click, backing=True),
        )  # fmt: skip
    assert click.of(2)
    assert not click.sounding()


def test_an_output_that_goes_away_does_not_end_the_take(make_plan: Callable[..., Plan]) -> None:
    """Its cable is pulled: one line says so, and the take goes on to its end without it."""
    click, _, screen = run(make_plan(VERSE), [], broken=7)
    assert len(click.sent) == 7
    assert "goes on without it" in screen.notes[-1]


def test_who_leaves_has_no_further_wish(make_plan: Callable[..., Plan]) -> None:
    """Again and quit pressed in one moment: the take ends, and no other begins."""
    clock = JumpingClock()
    ending = run_take(
        Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0)), Silence(), clock, start_s=0.0, screen=Screen(),
        keys=Keys(clock, [(1.0, "again"), (1.0, "quit")]), recorder=None, interrupt=Interrupt(),
    )  # fmt: skip
    assert ending.wish == "quit"


def test_a_part_ends_with_its_last_step(make_plan: Callable[..., Plan]) -> None:
    """Steps 2 to 3 of four, nobody plays: the click ends with them and waits, with the first of them."""
    clock, click = JumpingClock(), Output()
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0, first_step=1, last_step=2))
    run_take(
        practice, Silence(), clock, start_s=0.0, screen=Screen(), keys=Keys(clock, [(60.0, "quit")]), recorder=None,
        interrupt=Interrupt(), sounds=Sounds(click, backing=True),
    )  # fmt: skip
    assert not practice.verdicts
    assert [mark.word for mark in practice.marks[1:]] == ["pause", "end"]
    assert practice.marks[1].time_s == pytest.approx(LEAD_S + 8.0)
    assert len(click.of(10)) == 4 + 4
    assert [pitch for _, pitch in click.of(2)] == [33, 31]
    assert practice.snapshot(clock.now()).step == 1
