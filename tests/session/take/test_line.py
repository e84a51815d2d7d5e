"""A take whose port goes away and comes back: paused, said, taken up again, nothing lost, and judged alike later."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take, take_bytes
from listener.judging.take import PAUSE, judge_take
from listener.planning.plan import Plan
from listener.session.take.line import GuitarLine
from listener.session.take.practice import LEAD_S, PORT_BACK, PORT_GONE, Practice, TakeSettings
from listener.session.take.state import COUNT_IN, PAUSED, PLAYING

#: Its delay is left out here, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
VERSE = [("C", (48, 55, 64)), ("F", (53, 60, 69))]
MakePlan = Callable[..., Plan]
MakeMessages = Callable[..., list[Message]]


class Plugged:
    """A source that can be unplugged."""

    def __init__(self) -> None:
        self.name, self.missing, self.lost = "guitar", False, 0


def words(practice: Practice) -> list[str]:
    return [mark.word.split()[0] if mark.word.startswith("click") else mark.word for mark in practice.marks]


def test_the_click_waits_for_the_port(make_plan: MakePlan, make_messages: MakeMessages) -> None:
    """Gone before the second chord: paused; back: a count-in, and the second chord is due after it. A replay agrees."""
    plan = make_plan(VERSE)
    practice = Practice(plan, SINGLE, TakeSettings(tempo=60.0, count_in_bars=0))
    port = Plugged()
    line = GuitarLine(port)
    found = []
    for message in make_messages([(LEAD_S, VERSE[0][1])]):
        found += practice.feed(message)
    assert line.note == ""
    port.missing = True
    found += line.follow(practice, 1.5) + practice.tick(1.5)
    assert practice.snapshot(1.5).phase == PAUSED
    assert line.note.startswith("'guitar' has gone")
    assert line.follow(practice, 2.0) == []
    found += practice.tick(30.0)
    port.missing = False
    found += line.follow(practice, 31.0)
    assert practice.snapshot(31.6).phase == COUNT_IN
    assert line.note == ""
    due_s = 31.0 + LEAD_S + 4.0
    for message in make_messages([(due_s, VERSE[1][1])]):
        found += practice.feed(message)
    found += practice.tick(60.0)
    settled = [verdict for verdict in found if verdict.settled]
    assert [(v.step, v.grade, v.offset_ms) for v in settled] == [(0, "hit", 0.0), (1, "hit", 0.0)]
    assert words(practice) == ["click", PAUSE, PORT_GONE, PORT_BACK, "click", "end"]
    again = read_take(take_bytes(practice.take()), "take.mid")
    assert judge_take(plan, SINGLE, again) == settled


def test_at_own_pace_the_step_waits(make_plan: MakePlan) -> None:
    """No click: the same step goes on at once."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=None))
    practice.port_gone(1.0)
    assert practice.paused
    practice.port_back(2.0)
    assert practice.snapshot(2.0).phase == PLAYING
    assert words(practice) == [PAUSE, PORT_GONE, PORT_BACK, "step 0"]


def test_a_pause_of_the_players_own_outlasts_the_port(make_plan: MakePlan) -> None:
    """Paused before it went, or while it was away: still paused when it is back. A second press changes that."""
    for before, presses, paused in ((True, 0, True), (False, 0, False), (False, 1, True), (False, 2, False)):
        practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0))
        if before:
            practice.pause_or_resume(0.5)
        practice.port_gone(1.0)
        for _ in range(presses):
            practice.pause_or_resume(1.5)
            assert practice.paused
        practice.next_passage(1.7)
        assert practice.paused
        practice.port_back(2.0)
        assert practice.paused == paused


def test_after_the_end_ports_come_and_go_in_silence(make_plan: MakePlan) -> None:
    """No marks, no verdicts; and a port that was never away cannot come back."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=None))
    assert practice.port_back(1.0) == []
    practice.end(1.0)
    assert practice.port_gone(2.0) == practice.port_back(3.0) == []
    assert words(practice) == ["end"]


def test_lost_messages_are_said_and_a_file_is_never_unplugged(make_plan: MakePlan) -> None:
    """Only what was lost since the take began counts."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=None))
    port = Plugged()
    port.lost = 5
    line = GuitarLine(port)
    assert line.note == ""
    port.lost = 12
    assert "7 messages from 'guitar' were lost" in line.note
    assert GuitarLine(object()).follow(practice, 1.0) == []
    assert GuitarLine(object()).note == ""


def test_a_server_that_died_is_said(make_plan: MakePlan) -> None:
    """What to do is another thing than plugging in: that is said when the server is back."""
    practice = Practice(make_plan(VERSE), SINGLE, TakeSettings(tempo=60.0))
    port = Plugged()
    port.server_gone = True  # type: ignore[attr-defined]
    line = GuitarLine(port)
    port.missing = True
    line.follow(practice, 1.5)
    assert practice.paused
    assert line.note == "the MIDI server stopped; start it again: the take waits, nothing is lost"
    assert len(line.note) <= 80
    port.server_gone = False  # type: ignore[attr-defined]
    assert line.note.startswith("'guitar' has gone; plug it in")
