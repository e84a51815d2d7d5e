"""Takes of the simulated player, live into a history."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.history.store.store import Store
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.session.take.clock import UNWATCHED_S, JumpingClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder
from listener.session.take.run import Interrupt, run_take
from listener.session.take.simulated_player import SimulatedPlayer

NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)


class Nothing:
    """No screen and no keys."""

    def show(self, snapshot: object) -> None:
        """Look away."""

    def read(self) -> list[str]:
        """Press nothing."""
        return []


def plan_of(drill: str = "ferry-landing", **instrument: Any) -> Plan:
    """A bundled drill on an instrument."""
    return plan_drill(load_drill(drill), make_instrument(**instrument), make_hand())


def played(
    store: Store,
    plan: Plan,
    *,
    seed: int,
    tempo: float | None = 72.0,
    pickup: str = "per-string",
    session: Session | None = None,
    now: datetime = NOW,
) -> tuple[Practice, StoreRecorder]:
    """One take, as it was shown, and what kept it."""
    profile = make_pickup(pickup)
    practice = Practice(plan, profile, TakeSettings(tempo=tempo, source="simulated guitar"))
    clock = JumpingClock(UNWATCHED_S)
    start_s = clock.now()
    recorder = StoreRecorder(store, session or Session(store, now), practice, seed=seed, now=lambda: now)
    run_take(
        practice,
        SimulatedPlayer(practice, profile, seed=seed, clock=clock, start_s=start_s),
        clock,
        start_s=start_s,
        screen=Nothing(),
        keys=Nothing(),
        recorder=recorder,
        interrupt=Interrupt(),
    )
    return practice, recorder
