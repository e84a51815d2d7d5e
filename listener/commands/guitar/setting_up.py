"""``widehand setup``: from a guitar just plugged in to the first chord: a few questions, each string plucked once.

It finds the port, hears how the pickup sends, measures its delay if that is wanted, asks for tuning and hand, and keeps
all of it in the player's settings. The first ``widehand play`` of somebody who has kept nothing begins with it.
"""

from __future__ import annotations

import sys
import time
from argparse import Namespace
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from difflib import get_close_matches

from listener.commands.files import is_there
from listener.commands.guitar.asking import Ask, Say, ask_here, asked_until, is_somebody_there, say_here, yes_or_no
from listener.commands.guitar.open_strings import Found, OpenStrings
from listener.commands.guitar.settings_keeping import check_keeping, keep_pickup, keep_settings, kept_settings
from listener.commands.playing.at_the_screen import broken
from listener.drill.drill_file import load_drill
from listener.errors import InstrumentError, PlaceError, SourceError, UsageError, WidehandError
from listener.guitar.hand import hand_names
from listener.guitar.instrument import Instrument, make_instrument, tuning_list
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import PortSource, input_ports, open_input
from listener.hearing.sources.port_names import instruments, lasting_name, match_port
from listener.history.store.kept_settings import pickup_named
from listener.music.pitch import spell
from listener.places import is_nowhere
from listener.safe_text import toml_text
from listener.screen.keys import Keyboard
from listener.session.take.run import interrupts
from listener.settings import Settings, read_settings, settings_place

_HEAD = "Enter takes what stands in [ ]. Ctrl-C leaves; what is kept by then stays kept."
_FIRST = (
    "Nothing is known of your guitar yet. Two minutes set it up for good: you pluck each string once and say how it is "
    "tuned."
)
_LATER = "As you like: the usual settings hold, and widehand setup asks again."
_WAIT_S = 0.05
#: How long to wait for a string on any of several ports (seconds).
_FIND_S = 30.0
#: Plucks per string when the delay is measured on the way; ``widehand calibrate`` asks for more.
_PLUCKS = 8


def main(arguments: Namespace) -> int:
    """Check, or ask. 130 when the player left; what was kept by then is."""
    if arguments.check:
        from listener.commands.guitar.setup_check import check

        if arguments.port:
            raise UsageError("--port is for setting up; --check looks at all ports: leave one of them out")
        return check(as_json=arguments.json)
    if arguments.json:
        raise UsageError("--json goes with --check; to see what is kept: widehand settings --json")
    if not is_somebody_there():
        raise UsageError(
            "nobody is here to answer questions; widehand setup --check needs nobody, "
            "and widehand settings --begin makes a file to fill in"
        )
    SettingUp(arguments.port).run()
    _say("Now play: widehand play paddock-gate")
    return 0


def first_time(arguments: Namespace) -> None:
    """Before the first ``play``: set up, if nothing is kept, no port was named, and somebody is there to be asked.

    Who does not want to is not asked again. KeyboardInterrupt when the player leaves.
    """
    streams = (sys.stdin, sys.stdout, sys.stderr)
    if arguments.port or arguments.json or not all(stream is not None and stream.isatty() for stream in streams):
        return
    try:
        if is_nowhere(settings_place()) or is_there(settings_place()):
            return
        check_keeping()
    except (PlaceError, SourceError):
        return  # nothing can be kept here, so asking would never end
    if arguments.drill is not None:
        load_drill(arguments.drill)  # a misspelt name is told before two minutes of plucking
    _say(_FIRST)
    if asked_until("Set it up now?", "yes", yes_or_no, ask_here, say_here):
        SettingUp(None).run()
    else:
        keep_settings({})
        _say(_LATER)


def _say(text: str) -> None:
    say_here("\n".join(broken(line, sys.stderr) for line in text.splitlines()))


@dataclass
class SettingUp:
    """One sitting with the questions. ``port`` is one that was named already."""

    port: str | None
    ask: Ask = ask_here
    say: Say = _say

    def run(self) -> None:
        """Ask everything, keep everything. KeyboardInterrupt when the player leaves."""
        check_keeping()
        saved = kept_settings()
        self.say(_HEAD)
        tuning = self._tuning(saved)
        instrument = _instrument(tuning, saved)
        keep_settings({("guitar", "tuning"): tuning} if tuning != saved.tuning else {})
        name = self._port(saved)
        if name is not None:
            self._listen(name, instrument, saved)
        changes: dict[tuple[str, str], str | bool | int | None] = {}
        hand = self._hand(saved)
        if hand != saved.hand:
            changes = {("hand", "reach_mm"): None, ("hand", "size"): hand}
        left = asked_until(
            "Left-handed? yes or no", "yes" if saved.left_handed else "no", yes_or_no, self.ask, self.say
        )
        if left != saved.left_handed:
            changes["guitar", "left_handed"] = left
        place = keep_settings(changes)
        self.say(f"All of it is kept in {place}. To change it: widehand setup, or any text editor.")

    def _asked(self, words: str, usual: str, take: Callable[[str], str]) -> str:
        return asked_until(words, usual, take, self.ask, self.say)

    # Tuning and hand

    def _tuning(self, saved: Settings) -> str:
        return self._asked(
            "How is it tuned? A name, or its strings, lowest first: D2 A2 D3 G3 B3 E4\n"
            f"{broken('  ' + ', '.join(tuning_list()), sys.stderr)}",
            saved.tuning,
            lambda answer: _read_tuning(answer, saved),
        )

    def _hand(self, saved: Settings) -> str:
        sizes = hand_names()

        def take(answer: str) -> str:
            low = answer.lower()
            found = [size for size in sizes if size.startswith(low)]
            if answer == saved.hand:
                return answer
            if len(found) != 1:
                raise UsageError(f"'{answer}' is not a size; type {', '.join(sizes)}")
            return found[0]

        return self._asked(f"How far does your hand reach? {', '.join(sorted(sizes, key=_by_reach))}", saved.hand, take)

    # The port

    def _port(self, saved: Settings) -> str | None:
        """The port's full name; None when the player goes on without one."""
        while True:
            try:
                names = input_ports()
                if self.port is not None:
                    return match_port(self.port, names)
                problem = ""
            except SourceError as error:
                names, problem = [], str(error)
                if self.port is not None:
                    raise
            found = instruments(names)
            if found:
                return self._one_of(found, saved)
            self.say(problem or "No MIDI port is here yet. Plug the pickup in and switch it on.")
            answer = self._asked("Look again, or go on without a guitar? again, without", "again", _again_or_without)
            if answer == "without":
                return None

    def _one_of(self, names: list[str], saved: Settings) -> str | None:
        if len(names) == 1:
            self.say(f"Your guitar is on '{names[0]}', the only port there is.")
            return names[0]
        usual = "pluck"
        for number, name in enumerate(names, 1):
            kept = saved.port is not None and _fits(saved.port, names) == name
            usual = str(number) if kept else usual
            self.say(f"  {number}  {name}" + ("  (kept)" if kept else ""))

        def take(answer: str) -> str:
            if answer.lower() == "pluck":
                found = self._plucked(names)
                if found is None:
                    raise SourceError("nothing came on any of them; type a number, or try once more")
                return found
            if answer.isdecimal() and len(answer) <= 4 and 1 <= int(answer) <= len(names):
                return names[int(answer) - 1]
            found = _fits(answer, names)
            if found is None:
                raise UsageError(f"'{answer}' is none of them; type a number from 1 to {len(names)}, or pluck")
            return found

        return self._asked("Which is your guitar? Type its number, or pluck to find it by plucking", usual, take)

    def _plucked(self, names: Sequence[str]) -> str | None:
        """The first of the ports on which a note comes; None after a while, or when a key says stop."""
        with ExitStack() as stack:
            sources: list[PortSource] = []
            for name in names:
                try:
                    source = open_input(name)
                except SourceError as error:
                    self.say(f"  {error}")
                    continue
                stack.callback(source.close)
                sources.append(source)
            interrupt = stack.enter_context(interrupts())
            keys = stack.enter_context(Keyboard())
            self.say("Pluck any string; q stops waiting.")
            end_s = time.perf_counter() + _FIND_S
            while sources and time.perf_counter() < end_s and "quit" not in keys.read():
                if interrupt.raised:
                    raise KeyboardInterrupt
                sources[0].wait(_WAIT_S)
                for source in sources:
                    if any(message.begins_note for message in source.poll()):
                        self.say(f"  heard on '{source.name}'")
                        return source.name
        return None

    # The strings

    def _listen(self, name: str, instrument: Instrument, saved: Settings) -> None:
        """Pluck, keep what was found, measure."""
        names = [name]
        try:
            names = input_ports()
            lasting = lasting_name(name, names)
        except SourceError:
            lasting = name
        profile = saved.pickup
        sends = pickup_named(saved.pickup)
        kept = saved.port is not None and _fits(saved.port, names) == name
        if sends is None or (sends.tells_strings and len(sends.channels) != instrument.string_count):
            kept = False  # no profile at all, or that of another guitar
        if not kept or not asked_until(
            f"How your pickup sends is known: {saved.pickup}. Keep that?", "yes", yes_or_no, self.ask, self.say
        ):
            try:
                found = self._strings(name, instrument)
            except SourceError as error:
                self.say(f"{error}. The guitar is left out for now: widehand setup, when that is mended.")
                return
            if found.proposal.profile is None:
                keep_settings({("midi", "port"): lasting})
                self.say("The port is kept. Hear more of it with: widehand ports --watch")
                return
            profile = found.proposal.profile
        keep_pickup(lasting, profile, saved)
        self.say(f"Kept: port '{lasting}', pickup '{profile}'.")
        if asked_until("Measure how late its notes come? A minute of plucking", "no", yes_or_no, self.ask, self.say):
            self._measure(name, profile)

    def _strings(self, name: str, instrument: Instrument) -> Found:
        """What the open strings say, told; a tuning that turned out to be another is kept if the player says so."""
        with ExitStack() as stack:
            source = open_input(name)
            stack.callback(source.close)
            interrupt = stack.enter_context(interrupts())
            keys = stack.enter_context(Keyboard())
            self.say("Now pluck each open string once. Keys: a back one, n skip one, q skip the rest.")
            strings = OpenStrings(source, instrument, self.say)
            strings.run(keys, interrupt)
        found = strings.found()
        for line in told(found):
            self.say(line)
        self._other_tuning(found, instrument)
        return found

    def _other_tuning(self, found: Found, instrument: Instrument) -> None:
        """What sounded may be the tuning that was meant; octaves are the pickup's."""
        if found.silent or instrument.capo:
            return
        strings = sorted(found.pitches, reverse=True)
        if all((found.pitches[string] - instrument.pitch(string, 0)) % 12 == 0 for string in strings):
            return
        heard = " ".join(str(spell(found.pitches[string])) for string in strings)
        if asked_until(f"Heard: {heard}. Is that your tuning?", "no", yes_or_no, self.ask, self.say):
            keep_settings({("guitar", "tuning"): heard})

    def _measure(self, name: str, profile: str) -> None:
        from listener.commands.guitar import calibrate

        try:
            calibrate.main(
                Namespace(port=name, pickup=profile, out=None, click=None, plucks=_PLUCKS, tempo=80.0, json=False)
            )
        except WidehandError as error:
            self.say(f"{error}. Nothing is lost; try again with: widehand calibrate")


def told(found: Found) -> list[str]:
    """What was found, for the player."""
    if found.proposal.profile is None:
        return list(found.proposal.remarks)
    pickup = make_pickup(found.proposal.profile)
    lines = [
        "Each string has a channel of its own, so the program knows which string you play."
        if pickup.tells_strings
        else "Strings cannot be told apart by their channel; chords are heard all the same."
    ]
    if found.silent:
        which = ", ".join(map(str, found.silent))
        lines.append(f"Not heard: string {which}. Look at the pickup there, and run widehand setup again.")
    elif not found.proposal.sure:
        lines += found.proposal.remarks
    return lines


def _by_reach(size: str) -> float:
    from listener.guitar.hand import make_hand

    return make_hand(size).reach_mm[2]


def _fits(wanted: str, names: list[str]) -> str | None:
    try:
        return match_port(wanted, names)
    except SourceError:
        return None


def _again_or_without(answer: str) -> str:
    found = [word for word in ("again", "without") if answer and word.startswith(answer.lower())]
    if not found:
        raise UsageError(f"'{answer}' is neither; type again or without")
    return found[0]


def _instrument(tuning: str, saved: Settings) -> Instrument:
    return make_instrument(tuning, fret_count=saved.fret_count, capo=saved.capo, scale_mm=saved.scale_mm)


def _read_tuning(answer: str, saved: Settings) -> str:
    """The tuning's name; InstrumentError when there is no such guitar, or the settings cannot hold it."""
    if not any(character.isdigit() for character in answer) and " ".join(answer.split()).lower() not in tuning_list():
        near = get_close_matches(answer.lower(), tuning_list(), n=1)
        hint = f"did you mean {near[0]}?" if near else "take one of the list, or write its strings"
        raise InstrumentError(f"there is no tuning '{answer}'; {hint}")
    name = _instrument(answer, saved).name
    try:
        return read_settings(f"[guitar]\ntuning = {toml_text(name)}\n".encode(), settings_place()).tuning
    except WidehandError as error:
        raise InstrumentError(str(error).split(": ", 2)[-1]) from None
