"""A program for the torture test: simulated sessions, one or several at once, and what befalls them.

It plans once. For each line on standard input, a JSON object, it starts copies of itself that each play one sitting
after the other into ``store``, with seeds counted up from those in ``seeds``. When they have printed ``lines`` lines
and ``ms`` milliseconds more have gone by, ``deed`` is done: ``kill`` them, ``limit`` the size of their files to
``bytes``, ``fill`` the disk that the file ``filler`` lies on, or end (``quit``) the server whose number is ``process``.
After ``then_ms`` all that still run are killed (SIGKILL). The answer is what each of them had printed.
"""

import json
import os
import selectors
import signal
import sys
import time
import traceback
from argparse import Namespace
from contextlib import suppress
from pathlib import Path
from typing import Any

from listener.commands.playing.demo import settings_of
from listener.commands.playing.sitting import Sitting, sit
from listener.drill.drill_file import load_drill
from listener.errors import WidehandError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.session.take.clock import JumpingClock
from listener.session.take.practice import Practice
from listener.session.take.run import Source
from listener.session.take.simulated_player import SimulatedPlayer

#: Nobody waits for ever for lines that do not come.
_LONGEST_S = 60.0


DRILL, PICKUP = "ferry-landing", "per-string"


def plan() -> Plan:
    """What is played."""
    return plan_drill(load_drill(DRILL), make_instrument(), make_hand())


def play_for_ever(planned: Plan, store: str, seed: int) -> None:
    """Sitting after sitting, each with the history opened anew, until somebody puts an end to it."""
    pickup, clock = make_pickup(PICKUP), JumpingClock()
    options = {"own_pace": False, "tempo": None, "count_in": 1, "json": False, "plain": True, "left_handed": False}
    while True:
        arguments = Namespace(**options, store=store, seed=seed)

        def player(practice: Practice, start_s: float, seed: int = seed) -> Source:
            return SimulatedPlayer(practice, pickup, seed=seed, clock=clock, start_s=start_s)

        sit(Sitting(planned, pickup, settings_of(arguments, planned), player, clock, seed), arguments)
        seed += 1


class Player:
    """A copy of this program, and what it has printed."""

    def __init__(self, planned: Plan, store: str, seed: int) -> None:
        self.reading, writing = os.pipe()
        self.printed = b""
        self.number = os.fork()
        if self.number == 0:
            os.dup2(writing, 1)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
            try:
                play_for_ever(planned, store, seed)
            except WidehandError:
                pass  # the history cannot be opened any more
            except BaseException:
                traceback.print_exc(file=sys.stdout)
                sys.stdout.flush()
            finally:
                os._exit(1)
        os.close(writing)

    def read(self) -> bool:
        """Take what there is; False at the end."""
        more = os.read(self.reading, 1 << 16)
        self.printed += more
        return bool(more)


def played(planned: Plan, order: dict[str, Any]) -> list[str]:
    """What the players printed, each from its beginning to its end."""
    players = [Player(planned, order["store"], seed) for seed in order["seeds"]]
    with selectors.DefaultSelector() as selector:
        for player in players:
            selector.register(player.reading, selectors.EVENT_READ, player)
        _read(selector, players, order["lines"], _LONGEST_S)
        _read(selector, players, sys.maxsize, order["ms"] / 1000)
        _do(order, [player.number for player in players])
        _read(selector, players, sys.maxsize, order["then_ms"] / 1000)
        for player in players:
            os.kill(player.number, signal.SIGKILL)
            os.waitpid(player.number, 0)
        _read(selector, players, sys.maxsize, _LONGEST_S)
    for player in players:
        os.close(player.reading)
    return [player.printed.decode() for player in players]


def _read(selector: selectors.BaseSelector, players: list[Player], lines: int, seconds: float) -> None:
    """Until so many lines are there, time is over, or all have ended."""
    until_s = time.monotonic() + seconds
    while sum(player.printed.count(b"\n") for player in players) < lines and selector.get_map():
        left_s = until_s - time.monotonic()
        if left_s <= 0:
            return
        for key, _ in selector.select(left_s):
            if not key.data.read():
                selector.unregister(key.fileobj)


def _do(order: dict[str, Any], numbers: list[int]) -> None:
    if order["deed"] == "limit":
        import resource

        for number in numbers:
            resource.prlimit(number, resource.RLIMIT_FSIZE, (order["bytes"], order["bytes"]))
    elif order["deed"] == "fill":
        with suppress(OSError), Path(order["filler"]).open("wb", buffering=0) as filler:
            while filler.write(bytes(4096)):
                pass
    elif order["deed"] == "quit":
        os.kill(order["process"], signal.SIGQUIT)


def main() -> None:
    """Answer line by line."""
    planned = plan()
    for line in sys.stdin:
        print(json.dumps(played(planned, json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
