"""Widehand listens to a guitar with a MIDI pickup and says, chord by chord, whether what sounded is what was meant.

From Python there are :func:`name`, :func:`plan`, :func:`judge` and :func:`hear`, what they give, and
:class:`WidehandError` for what goes wrong; docs/python.md shows them. All else in here may change with any version.

Nothing is loaded here: each name comes when it is asked for, each command imports only what it needs, so that help and
error lines stay quick.
"""

__version__ = "0.1.0"
__all__ = ["HeardTake", "JudgedTake", "Naming", "Plan", "WidehandError", "__version__", "hear", "judge", "name", "plan"]

TYPE_CHECKING = False  # typing itself takes longer to load than all of this
if TYPE_CHECKING:
    from listener.errors import WidehandError
    from listener.face import hear, judge, name, plan
    from listener.judging.free.free import HeardTake
    from listener.judging.judged import JudgedTake
    from listener.music.naming import Naming
    from listener.planning.plan import Plan
else:
    _HOMES = {
        "HeardTake": "judging.free.free",
        "JudgedTake": "judging.judged",
        "Naming": "music.naming",
        "Plan": "planning.plan",
        "WidehandError": "errors",
        **dict.fromkeys(("hear", "judge", "name", "plan"), "face"),
    }

    def __getattr__(name):
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)

    def __dir__():
        return sorted({*globals(), *__all__})
