"""What is said to somebody who mistyped a command, an option or a choice: one line with what was probably meant."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from listener.plain_words import listed

#: How alike two words must be, 0 to 1, for one to be taken for the other mistyped; the standard library's own measure.
_ALIKE = 0.6
#: As likely as the likeliest: within this of it. No more than two are named.
_AS_GOOD = 0.05
_MOST = 2
#: Nobody mistypes more letters than these.
_LONGEST = 60
#: Commands that are named at most where an option belongs to others.
_MOST_NAMED = 4
_MISSING = "the following arguments are required: "
#: What argparse says, and what we say instead.
_OURS = (
    (r"argument (\S+): expected one argument", r"\1 wants a value after it"),
    (r"argument (\S+): ignored explicit argument .*", r"\1 takes no value"),
    (r"argument (\S+): not allowed with argument (\S+)", r"\1 and \2 do not go together; leave one of them out"),
    (r"argument (\S+): (.*)", r"\1: \2"),
)


def no_such_command(word: str, commands: Iterable[str]) -> str:
    """There is none of that name.

    >>> no_such_command("paly", ["plan", "play", "name"])
    "there is no command 'paly'; did you mean play?"
    """
    return f"there is no command '{word}'{_meant(word, commands, 'all of them: widehand help')}"


def no_such_choice(word: object, choices: Iterable[object]) -> str:
    """An option, or an action of a command, cannot be that.

    >>> no_such_choice("shwo", ["list", "show", "check"])
    "there is no 'shwo'; did you mean show?"
    """
    known = [str(choice) for choice in choices]
    return f"there is no '{word}'{_meant(str(word), known, f'there are {listed(known)}')}"


def left_over(command: str | None, words: Sequence[str], options: Mapping[str, Sequence[str]]) -> str:
    """Of what nobody has a use for, the first option, or else the first word. ``command`` is None where none was named,
    ``options`` are those of each command.

    >>> left_over("plan", ["--hnad", "small"], {"plan": ["--hand", "--json"]})
    "plan has no option '--hnad'; did you mean --hand?"
    """
    option = next((word for word in words if word.startswith("-")), None)
    if option is None:
        return f"'{words[0]}' is one word too many; put what belongs together in quotes"
    option = option.split("=")[0]
    having = [name for name, known in options.items() if option in known]
    if command is None:
        if having:
            return f"{option} goes with a command, such as: widehand {having[0]} {option}"
        return f"there is no option '{option}'{_meant(option, ['--help', '--version'], 'see: widehand help')}"
    if command in having:
        return f"{option} comes after the command, such as: widehand {command} ... {option}"
    what = f"{command} has no option '{option}'"
    if having:
        return f"{what}, but {listed(having[:_MOST_NAMED])} {'has' if len(having) == 1 else 'have'}"
    return f"{what}{_meant(option, options[command], f'all of them: widehand help {command}')}"


def reworded(message: str, command: str, example: str) -> str:
    """A complaint of argparse as we say it. ``example`` is what stands below the command's help.

    >>> reworded("the following arguments are required: DRILL", "plan", "example:\\n  widehand plan mill-verse")
    'plan needs DRILL, such as: widehand plan mill-verse'
    """
    if not message.startswith(_MISSING):
        for theirs, ours in _OURS:
            if re.fullmatch(theirs, message, re.DOTALL):
                return re.sub(theirs, ours, message, flags=re.DOTALL)
        return message
    lines = [line.strip() for line in example.splitlines() if line.strip().startswith("widehand")]
    return f"{command} needs {message.removeprefix(_MISSING)}" + (f", such as: {lines[0]}" if lines else "")


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The question, or nothing where no word is like it.

    >>> did_you_mean("Verdict", ["bundle", "verdicts"])
    'did you mean verdicts?'
    """
    from difflib import SequenceMatcher

    meant = word.lstrip("-").casefold()[:_LONGEST]
    alike = {one: SequenceMatcher(None, one.lstrip("-").casefold(), meant).ratio() for one in known}
    least = max(_ALIKE, max(alike.values(), default=0.0) - _AS_GOOD)
    near = sorted((one for one in alike if alike[one] >= least), key=lambda one: -alike[one])[:_MOST]
    return f"did you mean {' or '.join(near)}?" if near else ""


def _meant(word: str, known: Iterable[str], otherwise: str) -> str:
    """What was probably meant, or else where to look."""
    return f"; {did_you_mean(word, known) or otherwise}"
