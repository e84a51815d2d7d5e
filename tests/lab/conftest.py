"""A small drill that nobody has to plan: five chords, each four beats long."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Protocol

import pytest
from by_hand import PlanMaker, make_plan

from lab.people.scene import Prepared, prepare
from lab.people.take import Take, Way, practise
from lab.people.ways import WAYS
from listener.hearing.pickup import make_pickup
from listener.planning.plan import Plan
from listener.simulation.converter import FAULTLESS, Converter
from listener.simulation.slips import on_neck

__all__ = ["make_plan"]

CHORDS: Final = (
    ("C", (48, 55, 64)),
    ("G", (47, 55, 62, 67)),
    ("Am", (45, 52, 60)),
    ("F", (53, 60, 69)),
    ("Dm", (50, 57, 65)),
)
_OPEN: Final = (64, 59, 55, 50, 45, 40)


class Practiser(Protocol):
    """``practise_small(way, seed, ...)``: a take of the small drill."""

    def __call__(
        self, way: str | Way, seed: int, *, pickup: str = "single", converter: Converter = FAULTLESS
    ) -> Take: ...


def on_the_neck(plan: Plan) -> Plan:
    """The chords of a plan made by hand where a hand could play them."""
    steps = []
    for planned in plan.steps:
        places = on_neck(planned.voicing.midi, _OPEN)
        assert places is not None
        strings, frets = tuple(place[0] for place in places), tuple(place[1] for place in places)
        shape = replace(planned.fingering, strings=strings, frets=frets, fingers=(1,) * len(frets))
        steps.append(replace(planned, fingering=shape))
    return replace(plan, steps=tuple(steps))


@pytest.fixture(scope="session")
def small_plan(make_plan: PlanMaker) -> Plan:
    """Five different chords, 4 beats each at 60."""
    return on_the_neck(make_plan(CHORDS, beats=4.0))


@pytest.fixture(scope="session")
def small(small_plan: Plan) -> Prepared:
    """Ready to be practised."""
    return prepare(small_plan)


@pytest.fixture(scope="session")
def practise_small(small: Prepared, small_plan: Plan) -> Practiser:
    """Takes of it; of an arpeggio drill where the way wants that."""
    arpeggio = prepare(replace(small_plan, drill=replace(small_plan.drill, arpeggio=True)))

    def take(way: str | Way, seed: int, *, pickup: str = "single", converter: Converter = FAULTLESS) -> Take:
        known = WAYS[way] if isinstance(way, str) else way
        prepared = arpeggio if known.arpeggio else small
        return practise(known, prepared, seed, pickup=make_pickup(pickup), converter=converter, name="small")

    return take
