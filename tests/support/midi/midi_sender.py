"""Sends MIDI from a process of its own: ``python midi_sender.py PORT``.

Prints ``open`` when its virtual port is there. Every line on standard input is a JSON list of ``[seconds, [bytes]]``,
played from that moment on and answered with ``sent``. Ends with its input.
"""

from __future__ import annotations

import json
import sys
import time

from jack_clients import jack_output


def main() -> None:
    """Open the port, play what comes."""
    output = jack_output(f"{sys.argv[1]} client")
    output.open_virtual_port(sys.argv[1])
    print("open", flush=True)
    for line in sys.stdin:
        start_s = time.perf_counter()
        for at_s, data in json.loads(line):
            pause_s = start_s + at_s - time.perf_counter()
            if pause_s > 0:
                time.sleep(pause_s)
            output.send(bytes(data))
        print("sent", flush=True)
    output.release()


if __name__ == "__main__":
    main()
