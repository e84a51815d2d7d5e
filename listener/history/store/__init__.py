"""Takes and verdicts where they are kept: a file on this machine or a server, the same to everybody above."""
