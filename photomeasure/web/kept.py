"""How is something dear worked out once, however many ask for it at the same time?"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

V = TypeVar("V")


class Kept(Generic[V]):
    """The last `most` values by key. Whoever asks for one that is being made waits for it.

    What `make` raises is not kept: the next one who asks tries again.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Hashable, V] = OrderedDict()
        self._making: dict[Hashable, Lock] = {}
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], V]) -> V:
        """The value of a key, made by `make` if need be."""
        with self._lock:
            making = self._making.setdefault(key, Lock())
        with making:
            with self._lock:
                if key in self._values:
                    self._values.move_to_end(key)
                    self._making.pop(key, None)
                    return self._values[key]
            try:
                value = make()
                self._put(key, value)
                return value
            finally:
                with self._lock:
                    self._making.pop(key, None)

    def _put(self, key: Hashable, value: V) -> None:
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
