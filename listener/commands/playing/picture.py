"""The picture of the dashboard that the README shows, made by the program from a seeded take."""

from __future__ import annotations

from pathlib import Path

from listener.commands.files import write_file
from listener.hearing.pickup import make_pickup
from listener.planning.plan import Plan
from listener.screen.picture import svg_picture
from listener.screen.practice.dashboard import dashboard
from listener.screen.theme import Theme
from listener.session.take.clock import JumpingClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.run import Interrupt, run_take
from listener.session.take.simulated_player import SimulatedPlayer
from listener.session.take.state import Snapshot

#: Columns and rows of the picture, and the share of the take after which it is taken.
SIZE = (100, 30)
_SHARE = 0.7


class _Camera:
    """A screen that keeps the snapshot with the first fault after a given number of verdicts."""

    def __init__(self, after: int) -> None:
        self._after = after
        self.kept: Snapshot | None = None

    def show(self, snapshot: Snapshot) -> None:
        verdict = snapshot.verdict
        ripe = len(snapshot.verdicts) >= self._after and verdict is not None and verdict.settled
        if self.kept is None and ripe and verdict is not None and verdict.faults:
            self.kept = snapshot
        self.last = snapshot


class _NoKeys:
    def read(self) -> list[str]:
        return []


def picture(plan: Plan, settings: TakeSettings, seed: int, pickup_name: str) -> str:
    """An SVG of the dashboard in the middle of a simulated take; the same for the same seed."""
    clock, pickup = JumpingClock(), make_pickup(pickup_name)
    practice = Practice(plan, pickup, settings)
    player = SimulatedPlayer(practice, pickup, seed=seed, clock=clock, start_s=0.0)
    camera = _Camera(int(_SHARE * len(plan.steps)))
    run_take(
        practice, player, clock, start_s=0.0, screen=camera, keys=_NoKeys(), recorder=None,
        interrupt=Interrupt(),
    )  # fmt: skip
    width, height = SIZE
    drawn = dashboard(camera.kept or camera.last, width=width, height=height, theme=Theme())
    return svg_picture(drawn, width=width, height=height, title=f"Widehand listening to {plan.drill.title}")


def write_picture(path: str | Path, plan: Plan, settings: TakeSettings, seed: int, pickup_name: str) -> int:
    """Write the picture; SourceError when the file cannot be written."""
    write_file(path, picture(plan, settings, seed, pickup_name).encode())
    return 0
