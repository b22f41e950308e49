"""How does one program at a time work in a folder? A lock that dies with its holder."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Wait until nobody else holds this folder, then hold it. Raises OSError."""
    with (folder / ".lock").open("a+b") as file:
        _hold(file)
        try:
            yield
        finally:
            _let_go(file)


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def _hold(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)

    def _let_go(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _hold(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX)

    def _let_go(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)
