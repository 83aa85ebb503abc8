"""Values that never change once made, kept in this process: the ones not used for longest are dropped first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

ValueT = TypeVar("ValueT")


class Kept(Generic[ValueT]):
    """Values that never change, by id; the ones not used for longest are dropped first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[str, ValueT] = OrderedDict()
        self._lock = threading.Lock()

    def peek(self, key: str) -> ValueT | None:
        """The value, if it is here; looked at, it counts as used."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def get(self, key: str, make: Callable[[], ValueT]) -> ValueT:
        """The value, made outside the lock where it isn't here yet."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
                return self._values[key]
        value = make()
        with self._lock:
            self._values[key] = value
            while len(self._values) > self._most:
                self._values.popitem(last=False)
        return value
