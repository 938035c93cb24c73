"""Facts that are worked out once for each object, when first asked for."""

from collections.abc import Callable
from typing import Generic, Self, TypeVar, overload

H = TypeVar("H")
T = TypeVar("T")


class once(Generic[H, T]):  # noqa: N801 - a decorator, named like `property`
    """A property of an object with a `__dict__`, worked out when first asked for and kept there.

    Like `functools.cached_property`, which up to Python 3.11 takes a lock at each first access: a check makes a
    hundred of them. No lock is needed here, since what is worked out follows from the object alone: two threads that
    ask at once may both work it out, and both get the one that was kept first.
    """

    def __init__(self, func: Callable[[H], T]) -> None:
        self.func = func
        self.__doc__ = func.__doc__
        self._name = func.__name__

    def __set_name__(self, owner: type[H], name: str) -> None:
        self._name = name

    @overload
    def __get__(self, instance: None, owner: type[H]) -> Self: ...

    @overload
    def __get__(self, instance: H, owner: type[H]) -> T: ...

    def __get__(self, instance: H | None, owner: type[H]) -> Self | T:
        """Return the value; called only as long as the object's own `__dict__` does not have it."""
        if instance is None:
            return self
        kept: T = instance.__dict__.setdefault(self._name, self.func(instance))
        return kept


def forget(instance: object) -> None:
    """Let go of all that was worked out of an object; what is asked for again is worked out again.

    Facts that know what they were worked out of make circles, which no one but the garbage collector takes apart, late
    and in the middle of other work. Whoever is done with an object takes them apart at once.
    """
    kept, kind = vars(instance), type(instance)
    for name in [name for name in kept if isinstance(getattr(kind, name, None), once)]:
        del kept[name]
