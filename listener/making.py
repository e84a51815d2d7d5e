"""Making the same small objects a million times."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, field, fields, make_dataclass
from typing import ParamSpec, TypeVar, cast

_Arguments = ParamSpec("_Arguments")
_Made = TypeVar("_Made")


def maker(made: Callable[_Arguments, _Made]) -> Callable[_Arguments, _Made]:
    """Makes the very same objects of a frozen dataclass with slots, three to six times as fast.

    A frozen dataclass sets its fields one by one through ``object.__setattr__``. Here they are set while the object is
    still of a class of the same layout that is not frozen, and then it becomes what it is. Arguments and defaults are
    those of the class, in the same order; a class that does something when made (``__post_init__``, a
    ``default_factory``) cannot be made so: TypeError.
    """
    if not isinstance(made, type) or "__slots__" not in vars(made) or hasattr(made, "__post_init__"):
        raise TypeError(f"{made} is no plain frozen dataclass with slots")
    rows = []
    for one in fields(made):
        if not one.init or one.default_factory is not MISSING:
            raise TypeError(f"{made.__name__}.{one.name} is not simply given")
        rows.append((one.name, object, field(default=one.default)))

    def become(self: object) -> None:
        self.__class__ = made

    namespace = {"__post_init__": become}
    making = make_dataclass(f"_{made.__name__}InTheMaking", rows, slots=True, eq=False, repr=False, namespace=namespace)
    return cast(Callable[_Arguments, _Made], making)
