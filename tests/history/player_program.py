"""A program for the tests of durability: plays takes into a store and says what is done, line by line."""

import os
import sys
from datetime import UTC, datetime

from listener.hearing.events import Message
from listener.hearing.take_file import Take
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict


def describe(take: Take) -> bytes:
    """In place of a MIDI file."""
    return repr(take.messages).encode()


def say(*words: object) -> None:
    """One line in one system call, so that it is whole or not there."""
    os.write(1, (" ".join(map(str, words)) + "\n").encode())


def play(store: Store, session: int, strokes: int) -> None:
    """One take."""
    plan = {"steps": []}
    now = datetime.now(UTC)
    info = TakeInfo(session, "killed", "", plan, ("E2",), 0, "medium", "plain", "own pace", f"pid {os.getpid()}", now)
    take = store.begin_take(info)
    say("begun", take)
    heard: list[Message] = []
    for step in range(strokes):
        messages = (Message(step + 0.1, (0x90, 60, 80)), Message(step + 0.6, (0x80, 60, 0)))
        heard.extend(messages)
        store.keep(take, Verdict(step, 0, "hit", (), (60,), (), step + 0.1, 0.0), messages)
        say("kept", take, step + 1)
    store.finish_take(take, repr(tuple(heard)).encode(), now)
    say("finished", take)


def main() -> None:
    """STORE TAKES STROKES"""
    with Store.open(sys.argv[1], make_file=describe) as store:
        session = store.begin_session(datetime.now(UTC))
        for _ in range(int(sys.argv[2])):
            play(store, session, int(sys.argv[3]))


if __name__ == "__main__":
    main()
