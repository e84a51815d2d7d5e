"""A loop-back with a known delay, in a process of its own.

    python midi_loop.py NAME DELAY_MS [LOSE_EVERY] [SCATTER_MS]

Offers an input port ``NAME in`` and an output port ``NAME out``; what comes in goes out so much later. Prints ``open``;
ends with its input.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from queue import Empty, SimpleQueue
from random import Random
from threading import Thread

from jack_clients import jack_input, jack_output


@contextmanager
def loop(name: str, *words: str) -> Iterator[None]:
    """The loop-back while the caller needs it; ``words`` are the delay in ms and what follows it above."""
    command = [sys.executable, __file__, name, *words]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        assert process.stdout.readline().strip() == "open"
        try:
            yield
        finally:
            process.stdin.close()
            process.wait(timeout=10)


def main() -> None:
    """Open both ports, pass on."""
    name, delay_s = sys.argv[1], float(sys.argv[2]) / 1000
    lose_every = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    scatter_s = float(sys.argv[4]) / 1000 if len(sys.argv) > 4 else 0.0
    random = Random(1)
    queue: SimpleQueue[tuple[float, Sequence[int]]] = SimpleQueue()
    source = jack_input(f"{name} in client")
    source.listen(lambda data: queue.put((time.perf_counter(), data)))
    source.open_virtual_port(f"{name} in")
    output = jack_output(f"{name} out client")
    output.open_virtual_port(f"{name} out")
    ended: list[bool] = []
    Thread(target=lambda: (sys.stdin.read(), ended.append(True)), daemon=True).start()
    print("open", flush=True)
    count = 0
    while not ended:
        try:
            arrived_s, data = queue.get(timeout=0.1)
        except Empty:
            continue
        count += 1
        pause_s = arrived_s + delay_s + random.uniform(0, scatter_s) - time.perf_counter()
        if pause_s > 0:
            time.sleep(pause_s)
        if not lose_every or count % lose_every:
            output.send(bytes(data))
    for client in (source, output):
        client.release()


if __name__ == "__main__":
    main()
