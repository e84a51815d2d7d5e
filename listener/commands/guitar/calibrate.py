"""``widehand calibrate``: how late notes arrive, measured on this guitar and this computer, and kept.

With ``--out``, an output that is looped back to the input: the round trip. Without it: the strings are plucked one on
each click, and the delay is told from how it grows with the period of the string.
"""

from __future__ import annotations

import sys
import time
from argparse import Namespace
from contextlib import ExitStack
from dataclasses import asdict
from datetime import UTC, datetime
from functools import partial
from typing import Any, Final

from listener.commands.guitar.measuring import (
    COUNT_IN,
    LOOP_NOTES,
    AskedPluck,
    asked_plucks,
    loop_delays_ms,
    play_plucks,
    timed,
)
from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import broken, say
from listener.commands.setup import MidiChoice, midi_of
from listener.hearing.delays import PluckDelays, RoundTrip, pluck_delays, round_trip
from listener.hearing.pickup import make_pickup, plain_name
from listener.hearing.sources.port import PortSource, open_input, open_output
from listener.history.calibration import KnownDelay, calibration_place, keep_delay
from listener.session.take.run import Interrupt, interrupts
from listener.settings import load_settings

_USUAL_STRINGS: Final = 6
#: What a profile's name can say.
_MOST_PERIODS: Final = 20.0


def main(arguments: Namespace) -> int:
    """Measure, keep, report."""
    choice = midi_of(arguments, load_settings())
    profile = plain_name(choice.pickup)
    place = calibration_place()  # nobody shall pluck for what cannot be kept
    with ExitStack() as stack:
        interrupt = stack.enter_context(interrupts())
        source = open_input(choice.port)
        stack.callback(source.close)
        if arguments.out:
            found = _loop(source, arguments, interrupt)
            known = KnownDelay(
                source.name, profile, round_trip_ms=found.median_ms, jitter_ms=found.jitter_ms, measured=_now()
            )
            lines, report = _loop_lines(found), asdict(found)
        else:
            plucked = _plucks(source, profile, choice, arguments, interrupt)
            periods = min(_MOST_PERIODS, max(0.0, plucked.periods))
            known = KnownDelay(
                source.name, profile, periods, max(0.0, plucked.low), max(0.0, plucked.high), measured=_now()
            )
            lines, report = _pluck_lines(plucked), asdict(plucked)
    keep_delay(known, place)
    if arguments.json:
        print_json("delay", {"port": source.name, "pickup": profile, **_rounded(report)})
    else:
        for line in (*lines, f"Kept for '{source.name}' with '{profile}' in {place}."):
            print(broken(line, sys.stdout))
    return 0


def _loop(source: PortSource, arguments: Namespace, interrupt: Interrupt) -> RoundTrip:
    output = open_output(arguments.out)
    try:
        say(f"Sending {LOOP_NOTES} notes to '{output.name}', listening on '{source.name}' ...")
        return round_trip(loop_delays_ms(source, output, interrupt), LOOP_NOTES)
    finally:
        output.close()


def _plucks(
    source: PortSource, profile: str, choice: MidiChoice, arguments: Namespace, interrupt: Interrupt
) -> PluckDelays:
    pickup = make_pickup(profile)
    strings = len(pickup.channels) if pickup.tells_strings else _USUAL_STRINGS
    click = open_output(choice.click_port) if choice.click_port else None
    try:
        say(
            f"Listening to '{source.name}'. After four clicks pluck one open string on each click, from the lowest "
            f"(string {strings}) to the highest (string 1), {arguments.plucks} times over. Ctrl-C ends it."
        )
        asked = asked_plucks(arguments.plucks, strings, arguments.tempo, time.perf_counter())
        heard = play_plucks(source, asked, click, partial(_show, strings, arguments.plucks), interrupt)
    finally:
        if click is not None:
            click.close()
    return pluck_delays(timed(asked, heard, pickup), arguments.plucks * strings)


def _show(strings: int, rounds: int, asked: AskedPluck) -> None:
    """One line for each click: what to pluck on it and on the next; with the bell, the terminal's own click."""
    bell = "\a" if sys.stderr.isatty() else ""
    if asked.string is None:
        words = f"ready {asked.number + 1}"
    else:
        words = f"string {asked.string}   round {(asked.number - COUNT_IN) // strings + 1} of {rounds}"
    say(f"{bell}{words}" + (f"   then string {asked.then}" if asked.then is not None else ""))


def _loop_lines(found: RoundTrip) -> list[str]:
    return [
        f"Round trip {found.median_ms:.2f} ms (95 % sure: {found.low_ms:.2f} to {found.high_ms:.2f}), "
        f"jitter {found.jitter_ms:.2f} ms, {found.count} of {found.sent} notes came back.",
        "Half of it, the way in, is taken off before timing is judged; all of it when the click goes to a MIDI output.",
    ]


def _pluck_lines(found: PluckDelays) -> list[str]:
    side = "after" if found.own_mean_ms >= 0 else "before"
    low, high = found.strings[0], found.strings[-1]
    lines = [
        f"Notes of string {low.string} arrive {low.delay_ms:.0f} ms late, of string {high.string} "
        f"{high.delay_ms:.0f} ms. That is taken off before timing is judged.",
        f"The pickup needs {found.periods:.2f} swings of a string to know its note "
        f"(95 % sure: {found.low:.2f} to {found.high:.2f}).",
        f"You pluck {abs(found.own_mean_ms):.0f} ms {side} the click on average (with what all strings share), give or "
        f"take {found.spread_ms:.0f} ms; that is your own timing and is left as it is.",
    ]
    for each in found.strings:
        beside = f"{each.count} plucks, their median {each.beside_ms:+.1f} ms from that"
        lines.append(f"  string {each.string}: {each.delay_ms:5.1f} ms ({beside})")
    return lines


def _rounded(report: dict[str, Any]) -> dict[str, Any]:
    def short(value: Any) -> Any:
        if isinstance(value, float):
            return round(value, 3)
        if isinstance(value, dict):
            return _rounded(value)
        return [short(each) for each in value] if isinstance(value, (list, tuple)) else value

    return {key: short(value) for key, value in report.items()}


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
