"""One sitting at the guitar: take after take until the player has had enough. ``play`` and ``demo`` share it."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace

from rich.console import Console

from listener.commands.hear import report
from listener.commands.setup import store_path
from listener.hearing.pickup import Pickup
from listener.history.store import Store
from listener.judging.score import summarise
from listener.planning.plan import Plan
from listener.screen.keys import Keyboard
from listener.screen.live import LiveScreen
from listener.screen.plain import PlainScreen
from listener.screen.theme import theme_for
from listener.session.clock import Clock
from listener.session.practice import Practice, Settings
from listener.session.recorder import StoreRecorder, utc_now
from listener.session.run import ClickOutput, Ending, Interrupt, Keys, Screen, Source, interrupts, run_take

#: One press of slower or faster, as a share of the tempo; the tempo stays within what a drill may ask for.
_TEMPO_STEP = 0.05
_SLOWEST, _FASTEST = 20.0, 400.0
#: Longest turn of a thread in seconds. Measured with a screen being drawn: stamps late by 1.2 ms at the median instead
#: of 3.9 at Python's own 5 ms.
_SWITCH_S = 0.0005


@dataclass(frozen=True)
class Sitting:
    """Everything that stays the same from take to take.

    ``make_source`` is called for every take, with the take and the clock's time at its zero.
    """

    plan: Plan
    pickup: Pickup
    settings: Settings
    make_source: Callable[[Practice, float], Source]
    clock: Clock
    seed: int | None = None


def sit(sitting: Sitting, arguments: Namespace, *, click: ClickOutput | None = None) -> int:
    """Run the takes; the exit code is 0, or 130 when the player interrupted (everything is kept)."""
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(store_path(arguments)))
        for line in store.notes:
            print(line, file=sys.stderr)
        interrupt = stack.enter_context(interrupts())
        # The MIDI callback waits for the interpreter while the screen is drawn; a short turn makes its stamps true.
        stack.callback(sys.setswitchinterval, sys.getswitchinterval())
        sys.setswitchinterval(_SWITCH_S)
        screen = _screen(arguments, sitting.plan, stack)
        keys = stack.enter_context(Keyboard())
        ending = _takes(sitting, store, screen, keys, click, interrupt)
    _report(ending, arguments)
    return 130 if ending.wish == "interrupted" else 0


def _screen(arguments: Namespace, plan: Plan, stack: ExitStack) -> LiveScreen | PlainScreen:
    """The dashboard on a terminal; plain lines when asked for, when piped, or beside a JSON report."""
    if arguments.json:
        return stack.enter_context(PlainScreen(sys.stderr))
    if arguments.plain or not sys.stdout.isatty():
        return stack.enter_context(PlainScreen(sys.stdout))
    console = Console()
    theme = theme_for(console.encoding, left_handed=plan.left_handed)
    return stack.enter_context(LiveScreen(console, theme=theme))


def _takes(
    sitting: Sitting,
    store: Store,
    screen: LiveScreen | PlainScreen,
    keys: Keys,
    click: ClickOutput | None,
    interrupt: Interrupt,
) -> Ending:
    session = store.begin_session(utc_now())
    settings = sitting.settings
    while True:
        practice = Practice(sitting.plan, sitting.pickup, settings)
        start_s = sitting.clock.now()
        source = sitting.make_source(practice, start_s)
        ending = run_take(
            practice,
            source,
            sitting.clock,
            start_s=start_s,
            screen=screen,
            keys=keys,
            click=click,
            recorder=StoreRecorder(store, session, practice, seed=sitting.seed),
            interrupt=interrupt,
        )
        wish = ending.wish
        if not wish and isinstance(screen, LiveScreen):
            wish = _after(practice, screen, keys, sitting, source, interrupt)
        if wish not in ("again", "slower", "faster"):
            return Ending(practice, wish)
        settings = _next_settings(settings, practice, wish)


def _after(
    practice: Practice, screen: Screen, keys: Keys, sitting: Sitting, source: Source, interrupt: Interrupt
) -> str:
    """The take is over and stays on the screen until the player says what next."""
    while not interrupt.raised:
        for word in keys.read():
            if word in ("again", "slower", "faster", "quit", "next"):
                return word
        screen.show(practice.snapshot(0.0))
        source.wait(0.05)
        source.poll()
    return ""


def _next_settings(settings: Settings, practice: Practice, wish: str) -> Settings:
    first = 0 if practice.finished_all else practice.passage_start()
    if settings.tempo is None or wish == "again":
        return replace(settings, first_step=first)
    factor = 1 + _TEMPO_STEP if wish == "faster" else 1 - _TEMPO_STEP
    tempo = round(min(_FASTEST, max(_SLOWEST, settings.tempo * factor)))
    return replace(settings, first_step=first, tempo=float(tempo))


def _report(ending: Ending, arguments: Namespace) -> None:
    practice = ending.practice
    verdicts = list(practice.verdicts)
    if arguments.json:
        print(json.dumps(report(practice.plan.drill.name, verdicts, summarise(verdicts, len(practice.plan.steps)))))
    elif sys.stdout.isatty() and not arguments.plain:
        from listener.screen.summary import summary_lines

        for line in summary_lines(practice.snapshot(0.0)):
            print(line)
