"""``widehand today --start``: the items of the day one after the other, in one sitting. Everything is kept."""

from __future__ import annotations

import math
import sys
import time
from argparse import Namespace
from collections.abc import Callable
from contextlib import ExitStack
from itertools import count
from typing import Final

from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import TurningKeys, broken, quick_turns, screen_of
from listener.commands.playing.practising import Outputs, companion_of
from listener.commands.playing.sitting import BETWEEN_S, Sitting, Takes, tell_unkept
from listener.commands.setup import guitar_of, hand_of, midi_of
from listener.commands.today.todays import Item, Today, load_item
from listener.errors import WidehandError
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup, make_pickup
from listener.history.calibration import with_known_delay
from listener.history.skills.reviews import SIMULATED
from listener.history.store.store import Store
from listener.plain_words import capital
from listener.planning.easier import plan_easier
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.screen.keys import Keyboard
from listener.screen.practice.live import LiveScreen
from listener.session.day.day import REST
from listener.session.loop import Loop
from listener.session.rest import PAIN, Load
from listener.session.take.clock import UNWATCHED_S, Clock, JumpingClock, RealClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, Unkept, utc_now
from listener.session.take.run import Interrupt, Source, interrupts
from listener.session.take.simulated_player import SimulatedPlayer
from listener.settings import load_settings

_PICKUP: Final = "per-string"
_SEED: Final = 7
#: The dashboard of an item that is over stays for so long (seconds), unless a key is pressed.
_STAYS_S: Final = 8.0

MakeSource = Callable[[Practice, float], Source]


def start(today: Today, arguments: Namespace, store: Store) -> int:
    """Play the day; 0, 130 when the player interrupted, or 1 when a take is not in the history."""
    with ExitStack() as stack:
        player = _Simulated(arguments) if arguments.demo else _Guitarist(arguments, stack)
        playing = _Playing(today, arguments, store, player, stack)
        wish, reports = playing.run()
    if arguments.json:
        print_json("today", {**today.as_json(), "played": reports, "ended": wish or "done"})
    if tell_unkept(playing.unkept):
        return 1
    return 130 if wish == "interrupted" else 0


class _Silence:
    """A source that has nothing to say."""

    finished = False

    def poll(self) -> list[Message]:
        """Nothing."""
        return []

    def wait(self, timeout_s: float) -> None:
        """For the whole time."""
        time.sleep(timeout_s)


class _Guitarist:
    """A guitar on a MIDI port, opened once for the whole sitting."""

    def __init__(self, arguments: Namespace, stack: ExitStack) -> None:
        from listener.hearing.sources.port import open_input

        midi = midi_of(arguments, load_settings())
        source = open_input(midi.port)
        stack.callback(source.close)
        self.name = source.name
        self.clock: Clock = RealClock()
        self.pickup: Pickup = with_known_delay(make_pickup(midi.pickup), source.name, click=midi.click_port is not None)
        self.click = midi.click_port
        self.seed: int | None = None
        self.source: Source = source
        self.make_source: MakeSource = lambda _practice, _start_s: source


class _Simulated:
    """The simulated guitarist, another performance for each take."""

    def __init__(self, arguments: Namespace) -> None:
        self.name = SIMULATED
        self.clock: Clock = JumpingClock(UNWATCHED_S) if arguments.fast else RealClock()
        self.pickup = make_pickup(_PICKUP)
        self.click = arguments.click
        self.seed: int | None = _SEED
        self.source: Source = _Silence()
        seeds = count(_SEED)

        def perform(practice: Practice, start_s: float) -> Source:
            return SimulatedPlayer(practice, self.pickup, seed=next(seeds), clock=self.clock, start_s=start_s)

        self.make_source: MakeSource = perform


class _Playing:
    """Item after item."""

    def __init__(
        self, today: Today, arguments: Namespace, store: Store, player: _Guitarist | _Simulated, stack: ExitStack
    ) -> None:
        self._today = today
        self._arguments = arguments
        self._store = store
        self._player = player
        self._outputs = Outputs(arguments, player.click, stack)
        self._interrupt: Interrupt = stack.enter_context(interrupts())
        stack.enter_context(quick_turns())
        self._keys = stack.enter_context(Keyboard())
        self._talk = sys.stderr if arguments.json else sys.stdout
        self._session: Session | None = None
        self.unkept: list[Unkept] = []
        self._load: Load | None = None
        self._left: int | None = None

    def run(self) -> tuple[str, list[dict[str, object]]]:
        """The wish that ended it ("" when all was played), and a report of each item that was."""
        reports: list[dict[str, object]] = []
        items = self._today.items
        self._say(f"{self._today.planned:g} minutes. n goes on to the next, q ends it; everything is kept. {PAIN}")
        for number, item in enumerate(items, 1):
            slot = item.slot
            self._say(f"{number} of {len(items)}, {slot.minutes:g} min: {item.title}. {capital(slot.why)}.")
            if item.drill:
                then = f"coming up: {_title(items[number])}" if number < len(items) else ""
                wish, report = self._play(item, then)
                reports += [report] if report else []
            else:
                wish = self._wait(item)
            if wish in ("quit", "interrupted"):
                self._say("Ended here." if self.unkept else "Ended here; everything that was played is kept.")
                return wish, reports
        self._say("That is it for today. Put the guitar down for a while.")
        return "", reports

    def _play(self, item: Item, then: str) -> tuple[str, dict[str, object] | None]:
        """One item, at whose end is said what comes ``then``. A drill that cannot be planned on this guitar is passed
        over with a line about it."""
        arguments, player = self._arguments, self._player
        try:
            plan = self._plan(item)
        except WidehandError as error:
            self._say(f"Passed over: {' '.join(str(error).split())}")
            return "", None
        tempo = None if arguments.own_pace else item.slot.tempo or plan.drill.tempo
        settings = TakeSettings(tempo=tempo, count_in_bars=1, source=player.name)
        companion = companion_of(arguments, self._store, plan, player.name)
        companion.then = then
        if item.text:
            companion.before = None  # what was written for another day says nothing about this one
        if self._load is not None:
            companion.load = self._load
        sitting = Sitting(plan, player.pickup, settings, player.make_source, player.clock, player.seed)
        with screen_of(arguments, plan) as screen:
            takes = Takes(
                sitting,
                self._store,
                screen,
                TurningKeys(self._keys, screen),
                self._interrupt,
                companion,
                self._outputs.sounds,
                _STAYS_S,
            )
            self._session = self._session or Session(self._store, utc_now())
            wish = takes.run(Loop(plan, settings, times=item.slot.times), self._session)
            self.unkept += takes.unkept
            is_hidden = isinstance(screen, LiveScreen)
        self._load = companion.load
        if is_hidden:  # the dashboard has gone, and with it what it said in the end
            for line in takes.told():
                self._say(f"  {line}")
        return wish, takes.document()

    def _plan(self, item: Item) -> Plan:
        settings = load_settings()
        instrument, hand = guitar_of(self._arguments, settings), hand_of(self._arguments, settings)
        make = plan_easier if self._arguments.easier else plan_drill
        return make(load_item(item), instrument, hand)

    def _wait(self, item: Item) -> str:
        """A rest, or a stretch of the player's own: until its time is over or a key is pressed."""
        clock, source = self._player.clock, self._player.source
        # Nobody's hand has to rest when nobody plays.
        until_s = clock.now() + (BETWEEN_S if self._arguments.demo else 60.0 * item.slot.minutes)
        while (left_s := until_s - clock.now()) > 0:
            self._count_down(left_s)
            if self._interrupt.raised:
                return "interrupted"
            words = self._keys.read()
            if "quit" in words or "next" in words:
                self._count_down(None)
                return "quit" if "quit" in words else "next"
            clock.wait(source, 0.1)
            source.poll()  # what is played meanwhile belongs to no take
        self._count_down(None)
        if item.slot.what == REST:
            self._load = None
        return ""

    def _count_down(self, left_s: float | None) -> None:
        """What is left of a wait, always in the same place of a terminal; None takes it away."""
        if self._arguments.plain or not self._talk.isatty():
            return
        seconds = math.ceil(left_s) if left_s is not None else None
        if seconds != self._left:
            self._left = seconds
            words = "" if seconds is None else f"  {seconds // 60}:{seconds % 60:02} left"
            print(f"\r{words:<20}\r", end="", file=self._talk, flush=True)

    def _say(self, line: str) -> None:
        print(broken(line, self._talk), file=self._talk, flush=True)


def _title(item: Item) -> str:
    return f"{item.title}, {item.slot.minutes:g} min"
