"""Ports: names, errors, and real transport between two processes over JACK."""

from __future__ import annotations

import os
import time

import pytest
from calm import patient
from jack_server import sender

from listener.errors import SourceError
from listener.hearing.events import Message
from listener.hearing.line_watch import TIME_OUT_S
from listener.hearing.sources import interfaces, port
from listener.hearing.sources.callback import Heard
from listener.hearing.sources.client import Client, Library, MidiError, MidiSystem
from listener.hearing.sources.port import PortSource, input_ports, open_input, open_output, output_ports
from listener.hearing.sources.port_names import match_port, same_port
from listener.hearing.sources.port_output import ON_SERVER, PortOutput
from listener.hearing.sources.quiet import quiet_stderr

NAMES = ["Midi Through:0", "Pickup One:midi 20:0", "Pickup Two:midi 24:0", "pickup two"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("Pickup One:midi 20:0", NAMES[1]),
        ("pickup one", NAMES[1]),
        ("PICKUP ONE:MIDI 20:0", NAMES[1]),
        ("through", NAMES[0]),
        ("pickup two", "pickup two"),
    ],
)
def test_a_port_is_found_by_its_name_or_by_a_part_that_only_it_has(wanted: str, found: str) -> None:
    """The exact name wins over parts, upper and lower case are alike."""
    assert match_port(wanted, NAMES) == found


def test_the_only_port_need_not_be_named() -> None:
    """The system's through port and our own ports do not count."""
    assert match_port(None, [*NAMES[:2], "widehand:input"]) == NAMES[1]
    assert match_port(None, NAMES[:1]) == NAMES[0]


@pytest.mark.parametrize(
    ("wanted", "names", "said"),
    [
        ("x", [], "no MIDI input port; connect one"),
        (None, [], "no MIDI input port; connect one"),
        ("drums", NAMES, "no MIDI input port 'drums'; there are 'Midi Through:0', 'Pickup One"),
        ("midi 2", NAMES, "fits several"),
        (None, NAMES, "several MIDI input ports; say which with --port"),
    ],
)
def test_a_port_that_cannot_be_found_is_one_clear_line(wanted: str | None, names: list[str], said: str) -> None:
    """The line names the ports there are."""
    with pytest.raises(SourceError, match=said) as caught:
        match_port(wanted, names)
    assert "\n" not in str(caught.value)


class FakeClient(Client):
    """Stands for a client of a MIDI system: the test plays the part of its thread."""

    def __init__(self) -> None:
        super().__init__(MidiSystem(7, "made up", is_jack=False), None)
        self.heard: Heard = lambda data: None
        self.released = 0
        self.names: list[str] = []
        self.messages: list[bytes] = []

    def ports(self) -> list[str]:
        return self.names

    def open_port(self, number: int, name: str) -> None: ...

    def open_virtual_port(self, name: str) -> None: ...

    def listen(self, heard: Heard) -> None:
        self.heard = heard

    def send(self, data: bytes) -> None:
        self.messages.append(data)

    def release(self) -> None:
        self.released += 1


class FakeLibrary(Library):
    """Reaches two systems, of which some answer."""

    name = "made up"

    def __init__(self, answers: dict[str, FakeClient]) -> None:
        self._answers = answers

    def systems(self) -> tuple[MidiSystem, ...]:
        return tuple(MidiSystem(number, name, is_jack=False) for number, name in enumerate(("first", "second")))

    def client(self, system: MidiSystem, direction: str, name: str = "") -> Client:
        if system.name not in self._answers:
            raise MidiError("no server")
        return self._answers[system.name]


def test_no_midi_system_is_one_clear_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every interface refuses: what was tried and what to do."""
    monkeypatch.setattr(interfaces, "library", lambda: FakeLibrary({}))
    for ask in (input_ports, lambda: open_input("any"), lambda: open_input(None, virtual=True)):
        with pytest.raises(SourceError, match=r"no MIDI system answers \(tried first and second\); ") as caught:
            ask()
        assert "\n" not in str(caught.value)


def test_a_refusing_interface_does_not_hide_the_one_that_works(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without ALSA the ports of JACK are listed all the same; one that vanished while it was asked for is not."""
    works = FakeClient()
    works.names = ["there", ""]
    monkeypatch.setattr(interfaces, "library", lambda: FakeLibrary({"second": works}))
    assert input_ports() == ["there"]
    assert works.released == 1


def test_messages_are_stamped_on_arrival_and_never_go_back_in_time() -> None:
    """A message is never older than an earlier poll that did not have it."""
    client = FakeClient()
    source = PortSource("fake", client)
    before_s = time.perf_counter()
    client.heard([0x90, 60, 100])
    after_s = time.perf_counter()
    (message,) = source.poll()
    assert before_s <= message.time_s <= after_s
    assert message.data == (0x90, 60, 100)
    polled_s = time.perf_counter()
    assert source.poll() == []
    source._queue.put((before_s, [0x80, 60, 0]))  # stamped early, queued late
    assert source.poll()[0].time_s >= polled_s


def test_system_messages_and_empty_ones_are_left_out() -> None:
    """A sequencer's start message passes the library's filter; it is no note."""
    source = PortSource("fake", FakeClient())
    for data in ([0xFA], [], [0xFE], [0xB0, 1, 2]):
        source._arrived(data)
    assert [message.data for message in source.poll()] == [(0xB0, 1, 2)]


def test_an_error_in_the_callback_reaches_the_player(monkeypatch: pytest.MonkeyPatch) -> None:
    """The MIDI library would swallow it."""
    source = PortSource("fake", FakeClient())
    monkeypatch.setattr(port, "QUEUE_LIMIT", None)
    source._arrived([0x90, 60, 100])
    with pytest.raises(SourceError, match="the MIDI input 'fake' failed"):
        source.poll()


def test_waiting_ends_with_the_first_message_and_loses_none() -> None:
    """What woke the waiter comes first out of the next poll."""
    source = PortSource("fake", FakeClient())
    start_s = time.perf_counter()
    source.wait(0.01)
    assert time.perf_counter() - start_s >= 0.009
    source._arrived([0x90, 60, 1])
    source._arrived([0x90, 61, 1])
    start_s = time.perf_counter()
    source.wait(5.0)
    source.wait(5.0)
    assert time.perf_counter() - start_s < 1.0
    assert [message.data[1] for message in source.poll()] == [60, 61]


ON, OFF = (0x90, 60, 100), (0xB0, 120, 0)


def test_pieces_of_messages_are_put_together() -> None:
    """Where a system hands out bytes as they come: running status, a real-time byte inside, several at once."""
    source = PortSource("fake", FakeClient())
    for data in ([0x90, 60], [0xFE], [100, 61, 90], [0xC0, 5, 6], [0xF0, 1], [0xF7], [0x90, 62, 80]):
        source._arrived(data)
    found = [message.data for message in source.poll()]
    assert found == [ON, (0x90, 61, 90), (0xC0, 5), (0xC0, 6), (0x90, 62, 80)]


def test_a_sender_that_falls_silent_ends_its_notes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Active sensing over the port: all sound off on its channel when the promised byte does not come."""
    now_s = [100.0]
    monkeypatch.setattr(port.time, "perf_counter", lambda: now_s[0])
    source = PortSource("fake", FakeClient())
    source._arrived([0xFE])
    source._arrived(list(ON))
    assert [message.data for message in source.poll()] == [ON]
    now_s[0] += TIME_OUT_S
    assert source.poll() == []
    now_s[0] += 0.001
    assert source.poll() == [Message(now_s[0], OFF)]


def test_a_full_queue_is_counted_and_leaves_no_note_ringing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What came first is kept, what had no room is counted, and what may ring because of that ends."""
    monkeypatch.setattr(port, "QUEUE_LIMIT", 3)
    source = PortSource("fake", FakeClient())
    for pitch in range(60, 65):
        source._arrived([0x90, pitch, 100])
    assert [message.data[1] for message in source.poll()] == [60, 61, 62, 120]
    assert source.lost == 2
    source._arrived([0x90, 65, 100])
    assert [message.data[1] for message in source.poll()] == [65]
    assert source.lost == 2


class Plug:
    """The far end of a watched port: what there is, and which clients were opened."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
        self.now_s = 100.0
        self.refuses = False
        self.clients = [FakeClient()]
        self.opened: list[str] = []
        monkeypatch.setattr(port.time, "perf_counter", lambda: self.now_s)
        self.source = PortSource(name, self.clients[0], reopen=self._open)

    def _open(self, name: str) -> FakeClient:
        if self.refuses:
            raise SourceError("in use")
        self.clients.append(FakeClient())
        self.opened.append(name)
        return self.clients[-1]

    def look(self, *names: str) -> list[Message]:
        """What a poll gives when these ports are there, a little later."""
        self.clients[-1].names = list(names)
        self.now_s += port.LOOK_S
        return self.source.poll()


def test_a_port_that_goes_away_is_noticed_and_taken_up_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its notes end; when it is back, with another number too, a new client listens to it and the old one is given
    back. A few looks a second are enough."""
    plug = Plug(monkeypatch, "Guitar:Guitar MIDI 1 20:0")
    source = plug.source
    plug.clients[0].heard(list(ON))
    assert [message.data for message in source.poll()] == [ON]
    assert source.poll() == []
    assert not source.missing
    assert plug.look("Keys:Keys 24:0") == [Message(plug.now_s, OFF)]
    assert source.missing
    assert plug.look("Keys:Keys 24:0") == []
    assert plug.look("Keys:Keys 24:0", "Guitar:Guitar MIDI 1 28:0") == []
    assert (source.missing, source.name, plug.opened) == (False, "Guitar:Guitar MIDI 1 28:0", [source.name])
    assert plug.clients[0].released == 1
    plug.clients[1].heard(list(ON))
    assert [message.data for message in source.poll()] == [ON]


def test_a_port_that_will_not_open_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is there, but still busy."""
    plug = Plug(monkeypatch, "Guitar")
    plug.look()
    plug.refuses = True
    plug.look("Guitar")
    assert plug.source.missing
    plug.refuses = False
    plug.look("Guitar")
    assert not plug.source.missing


def test_a_midi_system_that_has_gone_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asking it for its ports fails; that is no reason to end a take."""
    plug = Plug(monkeypatch, "Guitar")

    def gone() -> list[str]:
        raise MidiError("server has gone")

    monkeypatch.setattr(plug.clients[0], "ports", gone)
    plug.look()
    assert plug.source.missing


class FakeServer:
    """Dies and returns as the test wants it."""

    def __init__(self, plug: Plug) -> None:
        self.is_dead, self._plug, self.asked = False, plug, 0

    def gone(self) -> bool:
        return self.is_dead

    def again(self) -> FakeClient | None:
        self.asked += 1
        if self.is_dead:
            return None
        self._plug.clients.append(FakeClient())
        return self._plug.clients[-1]

    def renew(self) -> None: ...


def test_a_server_that_dies_is_waited_for_and_then_the_port(monkeypatch: pytest.MonkeyPatch) -> None:
    """Though the list of ports stays as it was: its notes end, what was on it is given back before another is looked
    for, inputs and outputs alike; the output is opened again when it has to send."""
    plug = Plug(monkeypatch, "Guitar")
    source, server = plug.source, FakeServer(plug)
    source._server = server  # type: ignore[assignment]
    old = FakeClient()
    output = PortOutput("Synth", old, reopen=lambda _name: sent)
    sent = FakeClient()
    ON_SERVER.add(output)
    plug.clients[0].heard(list(ON))
    assert [message.data for message in source.poll()] == [ON]
    assert plug.look("Guitar") == []
    server.is_dead = True
    assert plug.look("Guitar") == [Message(plug.now_s, OFF)]
    assert (source.missing, source.server_gone, server.asked) == (True, True, 0)
    assert (plug.clients[0].released, old.released) == (1, 1)
    plug.now_s += port.SERVER_LOOK_S
    assert plug.look() == []
    assert (source.server_gone, server.asked) == (True, 1)
    server.is_dead = False
    plug.now_s += port.SERVER_LOOK_S
    assert plug.look() == []
    assert (source.missing, source.server_gone) == (True, False)
    plug.look("Guitar")
    assert (source.missing, plug.opened) == (False, ["Guitar"])
    output.send(bytes((0x99, 76, 90)))
    assert sent.messages == [bytes((0x99, 76, 90))]
    source.close()
    assert [client.released for client in plug.clients] == [1, 1, 1]


def test_while_the_server_is_dead_nothing_is_given_back_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """That would take the program down; an output that cannot be opened again says so in one line."""
    plug = Plug(monkeypatch, "Guitar")
    server = FakeServer(plug)
    plug.source._server = server  # type: ignore[assignment]
    output = PortOutput("Synth", FakeClient())
    ON_SERVER.add(output)
    server.is_dead = True
    plug.look("Guitar")
    with pytest.raises(SourceError, match="server of the output 'Synth' has stopped"):
        output.send(b"\x99\x4c\x5a")
    output.close()
    plug.source.close()
    assert [client.released for client in plug.clients] == [1]


def test_while_messages_come_the_list_is_not_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """They could not, if the port were gone; so no note waits for the list."""
    plug = Plug(monkeypatch, "Guitar")
    for _ in range(10):
        plug.clients[0].heard(list(ON))
        plug.look()
    assert not plug.source.missing


@pytest.mark.parametrize(
    ("name", "names", "found"),
    [
        ("A:B 20:0", ["A:B 20:0", "A:B 24:0"], "A:B 20:0"),
        ("A:B 20:0", ["A:C 24:0", "A:B 24:1"], "A:B 24:1"),
        ("A:B 20:0", ["A:B 24:0", "A:B 28:0"], None),
        ("A:B 20:0", [], None),
        ("A 1", ["A 2"], None),
    ],
)
def test_which_port_has_come_back(name: str, names: list[str], found: str | None) -> None:
    """The same name, or the same but for the numbers that ALSA appends, if that is only one."""
    assert same_port(name, names) == found


def test_closing_twice_is_no_harm() -> None:
    """The client is given back once; using it after that would crash."""
    client = FakeClient()
    source = PortSource("fake", client)
    assert not source.finished
    source.close()
    source.close()
    assert (client.released, source.finished) == (1, True)


def _collect(source: PortSource, count: int, timeout_s: float = 15.0) -> list[Message]:
    found: list[Message] = []
    end_s = time.perf_counter() + timeout_s
    while len(found) < count and time.perf_counter() < end_s:
        source.wait(0.05)
        found.extend(source.poll())
    source.wait(0.1)
    return found + source.poll()


def _bursts() -> list[tuple[float, tuple[int, int, int]]]:
    """600 notes as 100 six-string chords, each note-on recognisable by its pitch and velocity together."""
    schedule = []
    for chord in range(100):
        for string in range(6):
            number = chord * 6 + string
            pitch, velocity = 30 + number % 90, 1 + number // 90
            schedule.append((chord * 0.02 + string * 0.001, (0x90 | string, pitch, velocity)))
            schedule.append((chord * 0.02 + 0.012, (0x80 | string, pitch, 64)))
    return sorted(schedule)


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_600_notes_from_another_process_all_arrive_once_in_order() -> None:
    """Real transport: nothing lost, nothing doubled, nothing swapped, every byte as sent."""
    schedule = _bursts()
    with sender("strummer") as other:
        names = [name for name in input_ports() if "strummer" in name]
        assert len(names) == 1
        source = open_input("STRUMMER")
        try:
            assert source.name == names[0]
            other.play(schedule)
            received = _collect(source, len(schedule))
            other.wait()
        finally:
            source.close()
    assert [message.data for message in received] == [data for _, data in schedule]
    times = [message.time_s for message in received]
    assert times == sorted(times)
    assert received[-1].time_s - received[0].time_s == pytest.approx(schedule[-1][0], abs=0.25)


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_the_click_reaches_another_port() -> None:
    """What an output sends arrives at an input that another program made."""
    source = open_input("click listener", virtual=True)
    try:
        assert any("click listener" in name for name in output_ports())
        output = open_output("click listener")
        output.send(bytes((0x99, 76, 127)))
        received = _collect(source, 1, 5.0)
        output.close()
        output.close()
        with pytest.raises(SourceError, match="is closed"):
            output.send(bytes((0x99, 76, 127)))
    finally:
        source.close()
    assert [message.data for message in received] == [(0x99, 76, 127)]


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_no_such_port_on_a_real_system_names_those_there_are(capfd: pytest.CaptureFixture[str]) -> None:
    """And nothing of what the C libraries say reaches the screen."""
    said = r"no MIDI input port 'nowhere'; there are .*only one"
    with sender("only one"), pytest.raises(SourceError, match=said):
        open_input("nowhere")
    assert capfd.readouterr().err == ""


def test_errors_of_c_libraries_are_kept_from_the_screen_only_while_asking(capfd: pytest.CaptureFixture[str]) -> None:
    """Standard error works as before afterwards, also after an exception."""

    def noisy() -> None:
        with quiet_stderr():
            os.write(2, b"noise")
            raise ValueError("inside")

    with pytest.raises(ValueError, match="inside"):
        noisy()
    os.write(2, b"heard")
    assert capfd.readouterr().err == "heard"
