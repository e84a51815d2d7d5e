"""``widehand hear --simulate``: a simulated player and pickup play a drill, and the ears are tried on it.

The take is made as a file holds one and judged as a file is, so one that was kept with ``--out`` gives the same
verdicts. Beside them stands what the simulated player really did.
"""

from __future__ import annotations

from argparse import Namespace
from collections import Counter
from dataclasses import dataclass

from listener.commands.files import write_file
from listener.commands.playing.telling import tell_verdicts
from listener.commands.setup import plan_of
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.take_file import Take, take_bytes
from listener.history.skills.reviews import SIMULATED
from listener.judging.take import TakeJudge
from listener.planning.plan import Plan
from listener.session.take.practice import Practice, TakeSettings
from listener.simulation.converter import DIES_EARLY, NEVER_SENT, OCTAVE_UP, make_converter
from listener.simulation.simulated import Performance, simulate

#: What is simulated when nothing is said: another performance for each seed, on a pickup that tells strings apart.
SEED = 7
PICKUP = "per-string"
ERRORS = "typical"


#: Errors of a pickup that change what can be heard, for people; the ears set the others right.
_LASTING = {NEVER_SENT: "not sent", OCTAVE_UP: "an octave high", DIES_EARLY: "let go early"}


@dataclass(frozen=True)
class Simulated:
    """A take and what really happened in it."""

    take: Take
    performance: Performance

    @property
    def slips(self) -> list[tuple[int, str]]:
        """(step index, slip) of the chords that were not played as planned."""
        return [(intent.step, intent.slip) for intent in self.performance.intents if intent.slip is not None]

    @property
    def artefacts(self) -> Counter[str]:
        """How often each error of the pickup befell a plucked string."""
        return Counter(kind for fate in self.performance.sent for kind in fate.artefacts)

    @property
    def lasting(self) -> list[tuple[int, str]]:
        """(step index, error) of the notes that the pickup got wrong for good."""
        pairs = zip(self.performance.plucks, self.performance.sent, strict=False)
        return [(pluck.step, kind) for pluck, fate in pairs for kind in fate.artefacts if kind in _LASTING]

    def as_json(self) -> dict[str, object]:
        """What the player did and what the pickup made of it."""
        return {
            "slips": [{"step": step, "slip": slip} for step, slip in self.slips],
            "pickup_did": {kind.replace(" ", "_"): count for kind, count in sorted(self.artefacts.items())},
        }


def judge_simulated(arguments: Namespace) -> int:
    """Play the drill, keep the take if that is asked for, judge it."""
    plan = plan_of(arguments, arguments.drill)
    pickup = make_pickup(arguments.pickup or PICKUP)
    seed = SEED if arguments.seed is None else arguments.seed
    errors = arguments.pickup_errors or ERRORS
    tempo = arguments.tempo or plan.drill.tempo
    played = simulated_take(plan, pickup, tempo=tempo, seed=seed, errors=errors)
    if arguments.out is not None:
        write_file(arguments.out, take_bytes(played.take))
    said = {"seed": seed, "tempo": tempo, "pickup": pickup.name, "pickup_errors": errors}
    tell_verdicts(
        plan, TakeJudge(plan, pickup), played.take, SIMULATED,
        as_json=arguments.json, extra={"simulated": {**said, **played.as_json()}},
    )  # fmt: skip
    if not arguments.json:
        for line in _truth(played, seed, errors):
            print(line)
    return 0


def simulated_take(plan: Plan, pickup: Pickup, *, tempo: float, seed: int, errors: str) -> Simulated:
    """One performance with the click at ``tempo`` beats a minute; the same for the same seed."""
    # An empty take has header and marks as a live one has: when the first chord is due.
    empty = Practice(plan, pickup, TakeSettings(tempo=tempo, count_in_bars=0, source=SIMULATED)).take()
    performance = simulate(
        plan,
        seed=seed,
        pickup=pickup,
        tempo=tempo,
        first_beat_s=empty.header.first_beat_s or 0.0 if empty.header is not None else 0.0,
        converter=make_converter(errors),
    )
    return Simulated(Take(performance.messages, empty.marks, empty.header), performance)


def _truth(played: Simulated, seed: int, errors: str) -> list[str]:
    """What the simulated player did, and what of it the pickup lost."""
    slips = ", ".join(f"step {step + 1} ({slip})" for step, slip in played.slips)
    did = f"meant every chord as planned but {slips}" if slips else "meant every chord as planned"
    lines = [f"The simulated player (seed {seed}, pickup errors: {errors}) {did}."]
    lost = ", ".join(f"step {step + 1} ({_LASTING[kind]})" for step, kind in played.lasting)
    return [*lines, f"The pickup got a note wrong for good in {lost}."] if lost else lines
