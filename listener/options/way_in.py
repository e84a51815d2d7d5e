"""Options of the commands that make the program easier to use: docs, completion, help."""

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


def help_(commands: Commands) -> None:
    """The options of ``widehand help``, which comes last: it knows all commands before it."""
    help_ = commands.add("help", "how to use the program, or one of its commands", "widehand help plan")
    help_.add_argument(
        "about", nargs="?", metavar="COMMAND", choices=commands.names, help="such as plan; without one all are listed"
    )


def docs(commands: Commands) -> None:
    """The options of ``widehand docs``."""
    docs = commands.add(
        "docs", "read the pages that came with the program", "widehand docs troubleshooting\n  widehand docs"
    )
    docs.add_argument("page", nargs="?", metavar="PAGE", help="which one; without it they are listed")
    docs.add_argument("--plain", action="store_true", help="as it is written (Markdown), all at once")
    docs.add_argument("--schema", metavar="NAME", help="the JSON Schema of a document instead, such as plan")
