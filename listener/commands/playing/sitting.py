"""One sitting at the guitar: take after take until the player has had enough. ``play`` and ``demo`` share it."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import TurningKeys, broken, quick_turns, say, screen_of
from listener.commands.playing.practising import companion_of, loop_of
from listener.commands.setup import store_path
from listener.drill.drill import FASTEST, SLOWEST
from listener.hearing.pickup import Pickup
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.judging.free.free import FreeJudge, HeardTake
from listener.judging.free.smoother import Suggest
from listener.judging.judged import JudgedTake
from listener.planning.plan import Plan
from listener.safe_text import printable
from listener.screen.keys import Keyboard
from listener.screen.practice.live import LiveScreen
from listener.screen.suspending import HOLD
from listener.session.companion import Companion
from listener.session.loop import Loop
from listener.session.sound.sounds import Sounds
from listener.session.take.clock import Clock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder, Unkept, utc_now
from listener.session.take.run import Interrupt, Keep, Keys, Source, TakeScreen, interrupts, run_take
from listener.session.take.state import Snapshot

#: One press of slower or faster, as a share of the tempo; the tempo stays within what a drill may ask for.
_TEMPO_STEP = 0.05
#: Between two takes of a loop there is time to read what comes next (seconds).
BETWEEN_S = 3.0


@dataclass(frozen=True)
class Sitting:
    """Everything that stays the same from take to take.

    ``make_source`` is called for every take, with the take and the clock's time at its zero. ``seed`` is the simulated
    player's for the first take, one more for each that follows. ``suggest`` and ``keep`` are for free listening: then
    the plan has no steps.
    """

    plan: Plan
    pickup: Pickup
    settings: TakeSettings
    make_source: Callable[[Practice, float], Source]
    clock: Clock
    seed: int | None = None
    suggest: Suggest | None = None
    keep: Keep | None = None

    def practice(self, settings: TakeSettings) -> Practice:
        """A new take."""
        free = (
            FreeJudge(self.pickup, self.suggest, beats_in_bar=self.plan.drill.meter[0])
            if self.suggest is not None
            else None
        )
        return Practice(self.plan, self.pickup, settings, free)


@dataclass(frozen=True)
class _Played:
    """A take that is over, for the report."""

    settings: TakeSettings
    account: Account

    def as_json(self) -> dict[str, object]:
        last = self.settings.last_step
        return {
            "tempo": self.settings.tempo,
            "first_step": self.settings.first_step,
            "last_step": last if last is not None else self.account.steps - 1,
            "summary": self.account.as_json(),
        }


def _is_played(snapshot: Snapshot) -> bool:
    return bool(snapshot.verdicts or snapshot.chords)


def sit(
    sitting: Sitting,
    arguments: Namespace,
    *,
    make_sounds: Callable[[], Sounds] | None = None,
) -> int:
    """Run the takes; the exit code is 0, 130 when the player interrupted (everything is kept), or 1 when a take is not
    in the history.

    ``make_sounds`` gives what a take makes heard; without it there is silence.
    """
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(store_path(arguments)))
        for line in store.notes:
            print(line, file=sys.stderr)
        companion = companion_of(arguments, store, sitting.plan, sitting.settings.source)
        interrupt = stack.enter_context(interrupts())
        stack.enter_context(quick_turns())
        screen = screen_of(arguments, sitting.plan)
        stack.enter_context(screen)
        keys = TurningKeys(stack.enter_context(Keyboard()), screen)
        takes = Takes(sitting, store, screen, keys, interrupt, companion, make_sounds or Sounds)
        wish = takes.run(loop_of(arguments, sitting.plan, sitting.settings))
    takes.report(arguments)
    if tell_unkept(takes.unkept):
        return 1
    return 130 if wish == "interrupted" else 0


def tell_unkept(takes: Sequence[Unkept]) -> bool:
    """What is not in the history, as the last that is said; whether there is any."""
    for unkept in takes:
        say(printable(str(unkept)))
    return bool(takes)


class Takes:
    """Take after take: what was asked for at the start, and what the player asks for with keys.

    When nothing comes by itself any more the dashboard stays for ``stays_s`` seconds, or until a key is pressed.
    """

    def __init__(
        self,
        sitting: Sitting,
        store: Store,
        screen: TakeScreen,
        keys: Keys,
        interrupt: Interrupt,
        companion: Companion,
        make_sounds: Callable[[], Sounds],
        stays_s: float | None = None,
    ) -> None:
        self._stays_s = stays_s
        self._sitting = sitting
        self._store = store
        self._screen = screen
        self._keys = keys
        self._interrupt = interrupt
        self._companion = companion
        self._make_sounds = make_sounds
        self._practice = sitting.practice(sitting.settings)
        self._played: list[_Played] = []
        self.unkept: list[Unkept] = []
        #: The last take in which something was played and after which another one came.
        self._before: Snapshot | None = None

    def run(self, loop: Loop, session: Session | None = None) -> str:
        """Run the takes of a loop; the wish that ended it: "", quit, next or interrupted.

        They belong to a session of their own unless they are part of one.
        """
        if session is None:
            session = Session(self._store, utc_now())
        while True:
            self._companion.begins(loop)
            wish, source = self._take(loop.settings, session)
            if not wish:
                loop = loop.after(self._practice.verdicts)
                # Plain lines end where nothing comes by itself; the dashboard stays until a key is pressed.
                if not loop.done or isinstance(self._screen, LiveScreen):
                    wish = self._wait(source, self._stays_s if loop.done else BETWEEN_S)
                leave = loop.done and wish not in ("again", "slower", "faster")
            else:
                leave = wish not in ("again", "slower", "faster")
            if leave or wish in ("quit", "interrupted"):
                return wish
            if _is_played(shown := self._shown()):
                self._before = replace(shown, coming="")
            self._companion.ended(self._practice.snapshot(0.0))
            loop = self._wished(loop, wish)

    def _take(self, settings: TakeSettings, session: Session) -> tuple[str, Source]:
        """One take; the wish that ended it, and where its messages came from."""
        sitting = self._sitting
        practice = self._practice = sitting.practice(settings)
        start_s = sitting.clock.now()
        source = sitting.make_source(practice, start_s)
        seed = None if sitting.seed is None else sitting.seed + len(self._played)
        recorder = StoreRecorder(self._store, session, practice, seed=seed)
        ending = run_take(
            practice,
            source,
            sitting.clock,
            start_s=start_s,
            screen=self._screen,
            keys=self._keys,
            recorder=recorder,
            interrupt=self._interrupt,
            sounds=self._make_sounds(),
            companion=self._companion,
            keep=sitting.keep,
        )
        self._played.append(_Played(settings, practice.account))
        if recorder.unkept is not None:
            self.unkept.append(recorder.unkept)
        return ending.wish, source

    def _wait(self, source: Source, seconds: float | None) -> str:
        """The take is over and stays on the screen: until the player says what next, or for so many seconds."""
        clock = self._sitting.clock
        begun_s, held = clock.now(), False
        while seconds is None or clock.now() - begun_s < seconds:
            if self._interrupt.raised:
                return "interrupted" if seconds is not None else ""
            words = self._keys.read()
            if held:  # whoever stopped the program and is back has as much time as before
                begun_s = clock.now()
            held = HOLD in words
            for word in ["quit"] if "quit" in words else words:
                if word in ("again", "slower", "faster", "quit", "next"):
                    return word
            self._screen.show(self._shown())
            clock.wait(source, 0.05)
            source.poll()
        return ""

    def _shown(self) -> Snapshot:
        return self._companion.dressed(self._practice.snapshot(0.0), self._sitting.clock.now())

    def _wished(self, loop: Loop, wish: str) -> Loop:
        """What comes next after a key; without one the loop goes on as it is."""
        if wish == "next":
            return loop.skipped()
        if loop.done or (wish and not loop.spots):
            practice = self._practice
            first = 0 if practice.finished_all or loop.loops else practice.passage_start()
            loop = replace(loop, done=False, settings=replace(loop.settings, first_step=first, last_step=None))
        tempo = loop.settings.tempo
        if tempo is None or wish not in ("slower", "faster"):
            return loop
        factor = 1 + _TEMPO_STEP if wish == "faster" else 1 - _TEMPO_STEP
        return loop.at_tempo(float(round(min(FASTEST, max(SLOWEST, tempo * factor)))))

    def report(self, arguments: Namespace) -> None:
        """The last take as JSON, or its summary on the terminal that the dashboard has given back."""
        if arguments.json:
            print_json("chords" if self._sitting.suggest is not None else "verdicts", self.document())
        elif sys.stdout.isatty() and not arguments.plain:
            for line in self.told():
                print(broken(line, sys.stdout))

    def told(self) -> list[str]:
        """How the last take went, or if nothing was played in it the one before."""
        from listener.screen.practice.summary import summary_lines

        shown = replace(self._shown(), coming="")  # nothing comes by itself any more
        if self._before is not None and not _is_played(shown):
            return ["Nothing was played in the last take; the one before it:", *summary_lines(self._before)]
        return summary_lines(shown)

    def document(self) -> dict[str, object]:
        """The last take as others may rely on it, and how all of them went."""
        practice = self._practice
        if self._sitting.suggest is not None:
            return HeardTake(tuple(practice.chords), tuple(practice.harmony), practice.cleaned).as_json()
        account = self._played[-1].account
        assert practice.touch is not None  # there is a drill
        document = JudgedTake(
            practice.plan,
            tuple(practice.verdicts),
            account,
            practice.cleaned,
            tuple(practice.asides),
            practice.touch,
        ).as_json()
        if len(self._played) > 1:
            document["takes"] = [played.as_json() for played in self._played]
        return document
