"""What makes the program easier to use: completion."""

from __future__ import annotations

from listener.options.shared import Commands

#: Shells for which a script can be printed.
SHELLS = ("bash", "zsh", "fish", "powershell")


def completion(commands: Commands) -> None:
    """The options of ``widehand completion``."""
    completion = commands.add(
        "completion",
        "print a script that lets the Tab key complete commands, options and drills",
        "widehand completion bash",
    )
    completion.add_argument("shell", choices=SHELLS, help="the shell that you type in")
