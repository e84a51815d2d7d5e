"""Every way of practising that is simulated, by name."""

from __future__ import annotations

from random import Random
from typing import Final

from lab.people import patterns
from lab.people.gaps import Bars, Dropped, Gaps, LateStart, for_good
from lab.people.habits import (
    Again,
    BassRun,
    Habit,
    Hesitating,
    Noodling,
    Once,
    Silence,
    Sometimes,
    Trying,
    TuneNotes,
    WrongChord,
    hand_leaves,
    of_the_drill,
    one_again,
    stray,
    stray_after,
    tuning,
)
from lab.people.noodling import NOODLING, everyday_grip
from lab.people.own_pace import (
    AnyOf,
    MoreSlips,
    OwnPace,
    Reaction,
    again_right,
    from_the_top,
    go_on,
    one_left_out,
    passage_left_out,
    stops_early,
    to_and_fro,
    twice_through,
    two_back,
)
from lab.people.take import Way
from lab.people.touches import BassFirst, FilledUp, Ornamented, Picked, Rolled, Touch, down, up, usual, widened
from lab.people.touches import Sometimes as Now
from lab.people.with_click import WithClick, once

#: A picked tone needs this long (our choice: sixteenths at about 110).
_TONE_S: Final = 0.13

_SLIPS: Final = 0.12


def several_at_own_pace(random: Random) -> OwnPace:
    """Some touch and three or four habits, whatever comes."""
    touches: tuple[Touch, ...] = (
        usual, usual, usual, down, Rolled(), Picked(), Ornamented(0.3), Now(0.3, BassFirst()), Now(0.3, FilledUp()),
        Now(0.3, Rolled()), Now(0.3, Picked()),
    )  # fmt: skip
    reactions: tuple[Reaction, ...] = (
        again_right, again_right, go_on, two_back, from_the_top, MoreSlips((1, 2), same=False),
        MoreSlips((1, 2), same=True),
    )  # fmt: skip
    befores: tuple[Habit, ...] = (
        Once(Silence((8.0, 25.0))), Once(Noodling()), Sometimes(0.15, Trying()), Sometimes(0.12, Hesitating()),
        Sometimes(0.12, stray), Sometimes(0.08, WrongChord(of_the_drill)), Sometimes(0.08, WrongChord(everyday_grip)),
    )  # fmt: skip
    afters: tuple[Habit, ...] = (
        Sometimes(0.3, Again((1, 3))), Sometimes(0.3, TuneNotes()), Sometimes(0.1, stray_after),
        Sometimes(0.2, BassRun()), Sometimes(0.15, hand_leaves), Sometimes(0.15, one_again),
    )  # fmt: skip
    return OwnPace(
        random.choice(touches),
        slip_share=random.choice((0.0, 0.1, 0.2)),
        slips_most=4,
        reaction=AnyOf(tuple(random.sample(reactions, 2))),
        start=(tuning,) if random.random() < 0.2 else (),
        before=tuple(random.sample(befores, random.randint(1, 2))),
        after=tuple(random.sample(afters, random.randint(0, 2))),
        route=random.choice((None, None, None, one_left_out, to_and_fro)),
    )


def several_with_click(random: Random) -> WithClick:
    """Some pattern and three or four things besides."""
    pattern = random.choice((
        once, patterns.Eighths(), patterns.Eighths(top_only=True, open_last=True), patterns.Syncopated(),
        patterns.Ringing(), patterns.Fingers(), patterns.Melodic((1, 3)), patterns.BassAndChord(), patterns.Chucked(),
    ))  # fmt: skip
    gaps: tuple[Gaps, ...] = (Dropped(), Bars((1, 3)), Bars((1, 3), NOODLING), LateStart(), for_good)
    return WithClick(
        patterns.Strayed(pattern, 0.1) if random.random() < 0.3 else pattern,
        slip_share=random.choice((0.0, 0.15, 0.3)),
        gaps=random.choice(gaps),
        swing=random.choice(((0.5, 0.5), (0.6, 0.7))),
        push_share=random.choice((0.0, 0.0, 0.2)),
        push_eighth=random.random() < 0.5,
        late_share=random.choice((0.0, 0.0, 0.1)),
        lost=random.choice((None, None, (2, 4))),
        least_note_s=_TONE_S,
    )


WITH_CLICK: Final = (
    Way("click: one stroke a chord", WithClick(slip_share=0.2)),
    Way("click: chords dropped", WithClick(slip_share=0.1, gaps=Dropped())),
    Way("click: late chords", WithClick(slip_share=0.05, late_share=0.15)),
    Way("click: eighths straight", WithClick(patterns.Eighths(), slip_share=_SLIPS)),
    Way("click: eighths swung", WithClick(patterns.Eighths(), slip_share=_SLIPS, swing=(0.6, 0.7))),
    Way("click: up strokes on top strings", WithClick(patterns.Eighths(top_only=True), slip_share=_SLIPS)),
    Way("click: eighths, open strings at the change",
        WithClick(patterns.Eighths(top_only=True, open_last=True), slip_share=_SLIPS)),
    Way("click: eighths with gaps", WithClick(patterns.Eighths(top_only=True, miss_share=0.3), slip_share=_SLIPS)),
    Way("click: syncopated", WithClick(patterns.Syncopated(), slip_share=_SLIPS)),
    Way("click: picked from the bass", WithClick(patterns.Ringing(), slip_share=_SLIPS, least_note_s=_TONE_S)),
    Way("click: p i m a", WithClick(patterns.Fingers(), slip_share=_SLIPS, least_note_s=_TONE_S)),
    Way("click: tune notes above", WithClick(patterns.Melodic(), slip_share=_SLIPS)),
    Way("click: many tune notes above", WithClick(patterns.Melodic((2, 4)), slip_share=_SLIPS)),
    Way("click: pushed a little", WithClick(slip_share=0.1, push_share=0.3)),
    Way("click: pushed an eighth", WithClick(patterns.Syncopated(), slip_share=0.1, push_share=0.3, push_eighth=True)),
    Way("click: bass, then the rest", WithClick(patterns.BassAndChord(), slip_share=_SLIPS, least_note_s=_TONE_S)),
    Way("click: chucks", WithClick(patterns.Chucked(), slip_share=_SLIPS)),
    Way("click: stray strings", WithClick(patterns.Strayed(once), slip_share=_SLIPS)),
    Way("click: bass runs", WithClick(patterns.Led(once), slip_share=_SLIPS)),
    Way("click: strums and bass runs", WithClick(patterns.Led(patterns.Syncopated()), slip_share=_SLIPS)),
    Way("click: loses the beat", WithClick(slip_share=0.05, lost=(2, 6))),
    Way("click: hardly anything right", WithClick(slip_share=0.6, right_share=0.3)),
    Way("click: rolled", WithClick(patterns.Touched(Rolled((0.05, 0.16))), slip_share=_SLIPS, least_note_s=0.25)),
    Way("click: tones hammered on", WithClick(patterns.Touched(Ornamented()), slip_share=_SLIPS)),
    Way("click: comes in late", WithClick(slip_share=_SLIPS, gaps=LateStart())),
    Way("click: stops and comes back", WithClick(slip_share=_SLIPS, gaps=Bars((2, 4)))),
    Way("click: noodles and comes back", WithClick(slip_share=_SLIPS, gaps=Bars((1, 4), NOODLING))),
    Way("click: stops for good", WithClick(slip_share=_SLIPS, gaps=for_good)),
    Way("click: strums, comes in late, pushed",
        WithClick(patterns.Syncopated(), slip_share=_SLIPS, gaps=LateStart(), push_share=0.2, push_eighth=True)),
    Way("click: swung strums, stops and comes back, slips",
        WithClick(patterns.Eighths(top_only=True, open_last=True), slip_share=0.25, gaps=Bars((1, 3)),
                  swing=(0.6, 0.68))),
    Way("click: picked, dropped, slips",
        WithClick(patterns.Ringing(), slip_share=0.25, gaps=Dropped(), least_note_s=_TONE_S)),
    Way("click: tune notes, pushed, slips", WithClick(patterns.Melodic((1, 3)), slip_share=0.25, push_share=0.2)),
    Way("click: several things at once", several_with_click),
    Way("click: arpeggio drill", WithClick(patterns.OneByOne(), slip_share=_SLIPS, least_note_s=0.2), arpeggio=True),
    Way("click: arpeggio drill, picked on",
        WithClick(patterns.Ringing(), slip_share=_SLIPS, least_note_s=0.2), arpeggio=True),
)  # fmt: skip

_MIXED: Final[Touch] = Now(0.3, Rolled(), Now(0.3, Picked(), Ornamented(0.2)))

OWN_PACE: Final = (
    Way("own pace: clean", OwnPace()),
    Way("own pace: silence in the middle", OwnPace(before=(Once(Silence((18.0, 25.0))),))),
    Way("own pace: a slip, then right", OwnPace(slip_share=0.25, reaction=again_right)),
    Way("own pace: slips in a row", OwnPace(slip_share=0.15, reaction=MoreSlips((1, 2), same=False))),
    Way("own pace: the same slip again", OwnPace(slip_share=0.15, reaction=MoreSlips((1, 2), same=True))),
    Way("own pace: slips, and on", OwnPace(slip_share=0.2, reaction=go_on)),
    Way("own pace: rolled slowly", OwnPace(Rolled())),
    Way("own pace: lazy strums", OwnPace(widened((120.0, 400.0)))),
    Way("own pace: the grip tried", OwnPace(before=(Sometimes(0.3, Trying()),))),
    Way("own pace: two back", OwnPace(slip_share=0.12, slips_most=5, reaction=two_back)),
    Way("own pace: from the top", OwnPace(slip_share=0.1, slips_most=2, reaction=from_the_top)),
    Way("own pace: one left out", OwnPace(route=one_left_out)),
    Way("own pace: a passage left out", OwnPace(route=passage_left_out)),
    Way("own pace: a change to and fro", OwnPace(route=to_and_fro)),
    Way("own pace: twice through", OwnPace(route=twice_through)),
    Way("own pace: stops early", OwnPace(route=stops_early)),
    Way("own pace: noodling", OwnPace(before=(Once(Noodling()),))),
    Way("own pace: noodling for long", OwnPace(before=(Once(Noodling((15.0, 40.0))),))),
    Way("own pace: strummed again", OwnPace(after=(Again(),))),
    Way("own pace: strummed, with slips", OwnPace(down, slip_share=0.2, reaction=again_right, after=(Again(),))),
    Way("own pace: strummed on and on", OwnPace(down, after=(Again((5, 9), (0.2, 0.5), touch=Now(0.5, up, down)),))),
    Way("own pace: picked", OwnPace(Picked())),
    Way("own pace: picked, two rounds", OwnPace(Picked(), after=(Sometimes(0.6, Again((1, 1), touch=Picked())),))),
    Way("own pace: picked on and on", OwnPace(Picked((0.18, 0.4)), after=(Again((1, 3), touch=Picked((0.18, 0.4))),))),
    Way("own pace: bass first", OwnPace(Now(0.6, BassFirst()))),
    Way("own pace: filled up", OwnPace(Now(0.4, FilledUp()))),
    Way("own pace: tune notes above", OwnPace(after=(Sometimes(0.7, TuneNotes()),))),
    Way("own pace: runs above", OwnPace(after=(Sometimes(0.5, TuneNotes((3, 7), (0.12, 0.4))),))),
    Way("own pace: bass runs", OwnPace(after=(Sometimes(0.4, BassRun()),))),
    Way("own pace: one string again", OwnPace(after=(Sometimes(0.3, one_again),))),
    Way("own pace: strings sound when the hand leaves", OwnPace(after=(Sometimes(0.3, hand_leaves),))),
    Way("own pace: tones hammered on", OwnPace(Ornamented())),
    Way("own pace: stray strings", OwnPace(before=(Sometimes(0.2, stray),), after=(Sometimes(0.15, stray_after),))),
    Way("own pace: another chord of the drill", OwnPace(before=(Sometimes(0.15, WrongChord(of_the_drill)),))),
    Way("own pace: a chord of no drill", OwnPace(before=(Sometimes(0.15, WrongChord(everyday_grip)),))),
    Way("own pace: tuning up first", OwnPace(start=(tuning,))),
    Way("own pace: noodling before and after", OwnPace(start=(Noodling((3.0, 8.0)),), end=(Noodling((3.0, 20.0)),))),
    Way("own pace: very slow", OwnPace(slip_share=0.15, reaction=again_right, chord_s=(4.0, 6.0))),
    Way("own pace: very fast", OwnPace(slip_share=0.05, reaction=again_right, chord_s=(0.45, 0.8))),
    Way("own pace: hesitating", OwnPace(before=(Sometimes(0.3, Hesitating()),))),
    Way("own pace: arpeggio drill", OwnPace(Picked((0.2, 0.6), ("up",))), arpeggio=True),
    Way("own pace: arpeggio drill, slips",
        OwnPace(Picked((0.2, 0.6)), slip_share=0.2, reaction=again_right), arpeggio=True),
    Way("own pace: tuning, noodling, slips",
        OwnPace(slip_share=0.2, reaction=AnyOf((again_right, go_on, two_back)), start=(tuning,),
                before=(Once(Noodling()),))),
    Way("own pace: strums, tune notes, strays",
        OwnPace(down, after=(Sometimes(0.6, Again((1, 2))), Sometimes(0.3, TuneNotes())),
                before=(Sometimes(0.1, stray),))),
    Way("own pace: rolled, slips, two back",
        OwnPace(Rolled(), slip_share=0.15, reaction=AnyOf((again_right, two_back)))),
    Way("own pace: trying, slips, a break",
        OwnPace(slip_share=0.2, reaction=again_right,
                before=(Once(Silence((8.0, 20.0))), Sometimes(0.2, Trying()), Sometimes(0.1, Hesitating())))),
    Way("own pace: picked, slips, strays", OwnPace(Picked(), slip_share=0.15, reaction=again_right,
                                                   before=(Sometimes(0.1, stray),))),
    Way("own pace: several things at once", several_at_own_pace),
    Way("own pace: a lesson",
        OwnPace(_MIXED, slip_share=0.2,
                reaction=AnyOf((again_right, again_right, go_on, two_back, MoreSlips((1, 2), same=False))),
                start=(tuning,),
                before=(Once(Noodling()), Sometimes(0.1, Trying()), Sometimes(0.05, WrongChord(of_the_drill)),
                        Sometimes(0.05, stray)),
                after=(Sometimes(0.2, Again((1, 2))), Sometimes(0.15, TuneNotes())))),
    Way("own pace: from the top, left out, strummed",
        OwnPace(down, slip_share=0.1, slips_most=1, reaction=from_the_top, route=one_left_out,
                after=(Sometimes(0.5, Again()),))),
    Way("own pace: wrong chords, slips in a row, noodling",
        OwnPace(usual, slip_share=0.1, reaction=MoreSlips((1, 2), same=False),
                before=(Once(Noodling()), Sometimes(0.08, WrongChord(of_the_drill)),
                        Sometimes(0.08, WrongChord(everyday_grip))))),
)  # fmt: skip

WAYS: Final = {way.name: way for way in (*WITH_CLICK, *OWN_PACE)}
