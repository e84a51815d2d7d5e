"""A program for the tests of durability: simulated sessions, as of ``widehand demo --fast --plain``, to be killed.

It plans once. For each line ``[STORE, SEED, LINES, MILLISECONDS]`` on standard input it starts a copy of itself that
plays one take after the other into that store, waits until so many lines were printed and then so long, kills it
(SIGKILL), and answers with all that it had printed.
"""

import json
import os
import signal
import sys
import time
from argparse import Namespace

from listener.commands.demo import settings_of
from listener.commands.sitting import Sitting, sit
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.planning.drill_file import load_drill
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.session.clock import JumpingClock
from listener.session.practice import Practice
from listener.session.run import Source
from listener.session.simulated_player import SimulatedPlayer

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


def killed(planned: Plan, store: str, seed: int, lines: int, milliseconds: float) -> str:
    """What such a program printed until it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(writing, 1)
        os.close(reading)
        try:
            play_for_ever(planned, store, seed)
        finally:
            os._exit(1)
    os.close(writing)
    printed = b""
    while printed.count(b"\n") < lines:
        printed += os.read(reading, 1 << 16)
    time.sleep(milliseconds / 1000)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as pipe:
        return (printed + pipe.read()).decode()


def main() -> None:
    """Answer line by line."""
    planned = plan()
    for line in sys.stdin:
        print(json.dumps(killed(planned, *json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
