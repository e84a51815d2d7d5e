"""One take as a push stage: messages, ticks and keys in, verdicts and clicks out. No port, no clock, no screen.

All times are seconds since the take began. What the player asks for is kept as marks beside the messages, so that the
take can be judged again later exactly as it was judged live.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from listener.following.pace import Anchor, Timetable
from listener.hearing.cleaning import counted_words
from listener.hearing.events import TICK_US, Message, on_grid
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.account import Account
from listener.judging.fill import Aside
from listener.judging.free.free import FreeJudge, HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.free.stood import Stood
from listener.judging.take import END, PAUSE, UNTIL_RIGHT, TakeJudge, step_mark
from listener.judging.touch.log import TouchLog
from listener.judging.verdict import Verdict
from listener.music.pitch import frequency_hz
from listener.planning.plan import Plan
from listener.session.sound.click import Beat, ClickTrack
from listener.session.take.away import Absence
from listener.session.take.header import header_of
from listener.session.take.passages import after_passage, first_of_passage
from listener.session.take.places import click_for, place_now
from listener.session.take.so_far import TakeRecord
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, READY, Snapshot

#: Marks for the port going away and coming back, beside the pause and what ends it.
PORT_GONE = "port gone"
PORT_BACK = "port back"
#: Time between the start of a take and the first beat of its count-in.
LEAD_S = 0.5
#: A part at the player's own pace is over so long after its last chord was tried, but not right (our choice).
_PART_END_S = 4.0


@dataclass(frozen=True)
class TakeSettings:
    """How a take is run: ``tempo`` in beats per minute or None for the player's own pace, bars of count-in. With
    ``on_strum`` there is none at the beginning: the click starts with the first note.

    It goes from ``first_step`` to ``last_step`` (inclusive, from 0; None for the end of the drill). ``until_right``, at
    the player's own pace: it stays at each chord until that is right.
    """

    tempo: float | None
    count_in_bars: int = 1
    source: str = ""
    first_step: int = 0
    last_step: int | None = None
    until_right: bool = False
    on_strum: bool = False


class Practice:
    """A take in progress. Without a drill ``free`` names what is played; ``plan`` is then one without steps."""

    def __init__(self, plan: Plan, pickup: Pickup, settings: TakeSettings, free: FreeJudge | None = None) -> None:
        self.plan = plan
        self.settings = settings
        self._pickup = pickup
        self._free = free
        self._judge: TakeJudge | FreeJudge
        self._absence: Absence | None = None
        if free is not None:
            self._judge = free
        else:
            self._judge = judge = TakeJudge(plan, pickup)
            self._absence = Absence(plan, pickup, judge, settings.last_step)
        self._messages: list[Message] = []
        self._marks: list[Mark] = []
        self._record = TakeRecord(plan)
        self._newest: Verdict | None = None
        self._click: ClickTrack | None = None
        #: The click starts with the first note that comes.
        self._ready = settings.tempo is not None and settings.on_strum
        self._paused = False
        self._ended = False
        self._port_gone = False
        #: Whether the take goes on by itself when the port is back.
        self._goes_on = False
        self._last_s = 0.0
        self._told_s = 0.0
        self._jumps = 0
        if settings.tempo is None:
            if settings.first_step:
                self._mark(step_mark(0.0, settings.first_step))
            if settings.until_right:
                self._mark(Mark(0.0, UNTIL_RIGHT))
        elif not self._ready:
            self._start_click(0.0, settings.first_step, settings.tempo, settings.count_in_bars)

    # In ------------------------------------------------------------------------------------------------------

    def feed(self, message: Message) -> list[Verdict]:
        """A message from the source; its time is put on the take's grid and never before an earlier one."""
        if self._ended:
            return []
        found = self._gone_by(max(on_grid(message.time_s), self._last_s))
        if self._ended:
            return found
        time_s = max(on_grid(message.time_s), self._last_s)
        if self._ready and message.begins_note:
            found += self._begin(message, time_s)
            time_s = max(time_s, on_grid(self._last_s + TICK_US / 1_000_000))
        self._last_s = time_s
        placed = message._replace(time_s=time_s)
        self._messages.append(placed)
        found += self._kept(self._judge.feed(placed))
        return found + self._woken(self._absence.feed(placed) if self._absence is not None else None, time_s)

    def tick(self, now_s: float) -> list[Verdict]:
        """Time has passed."""
        if self._ended:
            return []
        now_s = on_grid(now_s)
        found = self._gone_by(now_s)
        if self._ended:
            return found
        self._told_s = max(self._told_s, now_s)
        found += self._kept(self._judge.tick(now_s))
        found += self._woken(self._absence.tick(now_s) if self._absence is not None else None, now_s)
        if not self._paused and (self._judge.finished or self._part_done(now_s)):
            found += self.end(now_s)
        return found

    def end(self, now_s: float) -> list[Verdict]:
        """The take is over, whether all of it was played or not."""
        if self._ended:
            return []
        found = self._mark(Mark(self._not_before(now_s), END))
        self._ended = True
        return found

    def pause_or_resume(self, now_s: float) -> list[Verdict]:
        """Stop judging, or go on with the step that was due (after a count-in when there is a click).

        Without its port a take is paused; then this says whether it goes on by itself when the port is back.
        """
        if self._ended:
            return []
        if self._port_gone:
            self._goes_on = not self._goes_on
            return []
        return self._pause_or_resume(now_s, self.settings.count_in_bars)

    def port_gone(self, now_s: float) -> list[Verdict]:
        """The guitar was unplugged: pause, as if the player had asked for it, and say so in the take."""
        if self._ended or self._port_gone:
            return []
        self._goes_on = not self._paused
        found = self._pause_or_resume(now_s, 0) if self._goes_on else []
        self._port_gone = True
        return found + self._mark(Mark(self._not_before(now_s), PORT_GONE))

    def port_back(self, now_s: float) -> list[Verdict]:
        """The guitar is there again: go on after a count-in, unless the player had paused."""
        if self._ended or not self._port_gone:
            return []
        self._port_gone = False
        found = self._mark(Mark(self._not_before(now_s), PORT_BACK))
        if self._goes_on:
            found += self._pause_or_resume(now_s, max(1, self.settings.count_in_bars))
        return found

    def _pause_or_resume(self, now_s: float, count_in_bars: int) -> list[Verdict]:
        now_s = self._not_before(now_s)
        if not self._paused:
            return self._pause(now_s)
        step = self._next_unplayed()
        return self.end(now_s) if step > self.last_step else self._go_on(now_s, step, count_in_bars)

    def next_passage(self, now_s: float) -> list[Verdict]:
        """Go on with the passage after this one, or end the take when this is the last; not without the port."""
        if self._port_gone:
            return []
        step = self.passage_end()
        if step > self.last_step:
            return self.end(now_s)
        return self._go_on(self._not_before(now_s), step, self.settings.count_in_bars)

    def passage_before(self, now_s: float) -> list[Verdict]:
        """Go back to the passage before this one, or to the beginning of this one when it is the first; not without
        the port."""
        if self._port_gone or self._ended:
            return []
        start = self.passage_start()
        step = first_of_passage(self.plan.steps, start - 1) if start > self.settings.first_step else start
        return self._go_on(self._not_before(now_s), max(step, self.settings.first_step), self.settings.count_in_bars)

    # Out -----------------------------------------------------------------------------------------------------

    @property
    def ended(self) -> bool:
        """Nothing more will be judged."""
        return self._ended

    @property
    def paused(self) -> bool:
        """Nothing is judged: the player has asked for a pause, or the click has stopped by itself."""
        return self._paused

    @property
    def waits(self) -> bool:
        """The click has stopped by itself, until somebody plays again."""
        return self._absence is not None and self._absence.waits and not self._ended

    @property
    def last_step(self) -> int:
        """Index of the last step that this take goes to."""
        last = self.settings.last_step
        return max(0, len(self.plan.steps) - 1) if last is None else last

    @property
    def chords(self) -> Sequence[HeardChord]:
        """What was heard so far in free listening."""
        return self._free.chords if self._free is not None else ()

    @property
    def harmony(self) -> tuple[HarmonyChord, ...]:
        """The chords that governed so far in free listening, the last as it seems now."""
        return self._free.harmony if self._free is not None else ()

    @property
    def finished_all(self) -> bool:
        """Every step was gone through."""
        return self._judge.finished

    @property
    def timetable(self) -> Timetable | None:
        """When each step is due; None at the player's own pace."""
        return self._judge.timetable

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """All settled verdicts so far."""
        return self._record.so_far.verdicts

    @property
    def account(self) -> Account:
        """What they come to so far."""
        return self._record.so_far.account

    @property
    def asides(self) -> tuple[Aside, ...]:
        """What is to be said of each step that was left so far besides its verdicts."""
        return () if isinstance(self._judge, FreeJudge) else tuple(self._judge.asides)

    @property
    def touch(self) -> TouchLog | None:
        """How each chord that was right when it was left was touched; None without a drill."""
        return None if isinstance(self._judge, FreeJudge) else self._judge.touch

    @property
    def marks(self) -> tuple[Mark, ...]:
        """What the player asked for so far."""
        return tuple(self._marks)

    def messages_since(self, count: int) -> list[Message]:
        """The messages of the take after the first ``count``."""
        return self._messages[count:]

    def clicks(self, now_s: float) -> list[Beat]:
        """Beats that have become due since the last call, each once."""
        return self._click.due(now_s) if self._click is not None and not self._ended else []

    def next_click_s(self) -> float | None:
        """When the next beat is due."""
        return self._click.next_s if self._click is not None and not self._ended else None

    def passage_start(self) -> int:
        """Index of the first step of the passage that is being played."""
        return first_of_passage(self.plan.steps, self._judge.step)

    def passage_end(self) -> int:
        """Index of the first step after that passage."""
        return after_passage(self.plan.steps, self._judge.step)

    @property
    def cleaned(self) -> dict[str, int]:
        """How often each kind of the pickup's errors was set right: the kinds of :mod:`listener.hearing.cleaning`."""
        return self._judge.cleaned

    def take(self) -> Take:
        """The take as it stands: everything needed to judge it again."""
        header = header_of(self.plan, self._pickup.name, self.settings.tempo, self._judge.timetable)
        return Take(tuple(self._messages), tuple(self._marks), header)

    def stood(self) -> list[Stood] | None:
        """The chords that stood in free listening, when the take is over; None with a drill."""
        if self._free is None:
            return None
        self._free.finish()
        return self._free.stood

    def snapshot(self, now_s: float, note: str = "") -> Snapshot:
        """What a screen should show now."""
        beat = self._click.at(now_s) if self._click is not None else None
        counting = beat is not None and beat.count_in
        away = self._away(now_s)
        paused = self._paused or bool(away)
        going = READY if self._ready else COUNT_IN if counting else PLAYING
        phase = FINISHED if self._ended else PAUSED if paused else going
        step = self._shown_step(now_s)
        newest = self._newest
        if away and newest is not None and not newest.settled:
            newest = self._record.newest
        return Snapshot(
            plan=self.plan,
            phase=phase,
            step=step,
            verdict=newest,
            so_far=self._record.so_far,
            sounding=self._judge.sounding,
            now_s=now_s,
            tempo=self.settings.tempo,
            bar=beat.bar if beat is not None and not counting else 0,
            beat=beat.beat if beat is not None else 0,
            source=self.settings.source,
            note=note,
            chords=tuple(self._free.chords) if self._free is not None else None,
            harmony=self.harmony,
            cleaned=counted_words(self.cleaned),
            last_step=self.settings.last_step,
            place=place_now(self.plan.steps, step, self._beats_at(now_s)),
            away=away,
            until_right=self.settings.until_right,
            asides=self.asides,
            jumps=self._jumps,
            touch=self.touch.account if self._ended and self.touch is not None else None,
        )

    def _away(self, now_s: float) -> str:
        if self._absence is None or self._ended or self._port_gone or (self._paused and not self.waits):
            return ""
        return self._absence.words(now_s)

    def _beats_at(self, now_s: float) -> float | None:
        return self._click.beats_at(now_s) if self._click is not None and not self._ended else None

    # Inside --------------------------------------------------------------------------------------------------

    def _gone_by(self, now_s: float) -> list[Verdict]:
        """What the click brings about by this time: the end of a part, or a pause when nobody plays. Both happen at
        their own moments, however late that is noticed."""
        timetable, absence, last = self._judge.timetable, self._absence, self.last_step
        if self._paused or self._ended or timetable is None or absence is None:
            return []
        over_s = inf if self.settings.last_step is None else timetable.due_s[last] + timetable.length_s[last]
        away_s = absence.at_s
        if now_s < min(over_s, away_s):
            return []
        if over_s < away_s:
            return self.end(max(over_s, self._told_s))
        played_s = absence.last_s
        found = self._pause(self._not_before(max(away_s, self._told_s)))
        absence.begin(self._last_s, played_s)
        return found

    def _woken(self, step: int | None, now_s: float) -> list[Verdict]:
        """Somebody has come back with this step: count in, and go on there."""
        if step is None:
            return []
        return self._go_on(self._not_before(now_s), step, max(1, self.settings.count_in_bars))

    def _part_done(self, now_s: float) -> bool:
        """At the player's own pace: all of a part was gone through, and its last chord will not be put right."""
        judge = self._judge
        part = self.settings.last_step is not None and judge.timetable is None
        if not part or isinstance(judge, FreeJudge) or self.account.reached <= self.last_step:
            return False
        waited = judge.last_at_s is None or now_s >= judge.last_at_s + _PART_END_S
        return judge.step > self.last_step or (waited and not self.settings.until_right)

    def _shown_step(self, now_s: float) -> int:
        timetable = self._judge.timetable
        if self._ended and self.settings.last_step is not None:
            return self.settings.first_step  # a part is seldom played only once
        if self._paused:
            return self._next_unplayed()
        if timetable is None or self._ended:
            return self._judge.step
        return min(timetable.step_at(now_s, first=self._judge.step), len(self.plan.steps))

    def _next_unplayed(self) -> int:
        """The step to go on with after a pause."""
        return self._absence.step if self._absence is not None and self.waits else self._judge.next_unplayed

    def _not_before(self, now_s: float) -> float:
        """A moment for a mark: after all messages so far, and before those to come even where times are equal."""
        self._last_s = max(on_grid(now_s), on_grid(self._last_s + TICK_US / 1_000_000))
        return self._last_s

    def _pause(self, now_s: float) -> list[Verdict]:
        found = self._mark(Mark(now_s, PAUSE))
        self._paused = True
        self._click = None
        return found

    def _begin(self, message: Message, time_s: float) -> list[Verdict]:
        """The click starts with this note: its string was plucked on the first beat."""
        tempo = self.settings.tempo
        if tempo is None:
            return []
        self._ready = False
        step, meter = self.settings.first_step, self.plan.drill.meter
        due_s = max(0.0, on_grid(time_s - self._pickup.delay_s(frequency_hz(message.data[1]))))
        self._click = click_for(self.plan.steps[step : self.last_step + 1], meter, due_s, tempo, 0)
        return self._mark(Mark(self._not_before(time_s), Anchor(step, due_s, tempo).word()))

    def _go_on(self, now_s: float, step: int, count_in_bars: int) -> list[Verdict]:
        self._paused = self._ready = False
        self._jumps += 1
        if self.settings.tempo is None:
            found = self._mark(step_mark(now_s, step))
        else:
            found = self._start_click(now_s, step, self.settings.tempo, count_in_bars)
        if self._absence is not None:
            self._absence.end()  # after the mark, which settles what was played before it
        return found

    def _start_click(self, now_s: float, step: int, tempo: float, count_in_bars: int) -> list[Verdict]:
        meter = self.plan.drill.meter
        count_in = count_in_bars * meter[0]
        due_s = on_grid(now_s + LEAD_S + count_in * 60.0 / tempo)
        self._click = click_for(self.plan.steps[step : self.last_step + 1], meter, due_s, tempo, count_in)
        return self._mark(Mark(now_s, Anchor(step, due_s, tempo).word()))

    def _mark(self, mark: Mark) -> list[Verdict]:
        self._marks.append(mark)
        found = self._kept(self._judge.mark(mark))
        if self._newest is not None and not self._newest.settled:
            # A mark settles everything: what was only likely, and is not confirmed now, was nothing.
            self._newest = self._record.newest
        return found

    def _kept(self, verdicts: list[Verdict]) -> list[Verdict]:
        for verdict in verdicts:
            self._newest = verdict
            if self._absence is not None:
                self._absence.judged(verdict)
            if verdict.settled:
                self._record.add(verdict)
        return verdicts
