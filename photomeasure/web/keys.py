"""Who may come in from the network? A key opens once; what it gives is the browser's alone."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from threading import Lock

KEY_LIFE_S = 15 * 60
COOKIE = "photomeasure"


class Keys:
    """One-time keys and the sessions they opened; all are gone when the program ends."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._keys: dict[str, float] = {}
        self._sessions: set[str] = set()

    def new(self) -> str:
        """A key for one browser, good for KEY_LIFE_S."""
        key = secrets.token_urlsafe(16)
        with self._lock:
            self._keys[key] = self._clock() + KEY_LIFE_S
        return key

    def enter(self, key: str) -> str | None:
        """A session for a key that is still good, and the key is used up; else None."""
        with self._lock:
            until = self._keys.pop(key, None)
            if until is None or self._clock() > until:
                return None
            session = secrets.token_urlsafe(32)
            self._sessions.add(session)
            return session

    def knows(self, session: str | None) -> bool:
        """Whether this session was opened here."""
        with self._lock:
            return session is not None and session in self._sessions
