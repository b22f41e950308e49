"""How is a file read that may be none? A folder from elsewhere may hold more than files."""

from __future__ import annotations

import errno
from pathlib import Path


def file_bytes(path: Path) -> bytes:
    """All of a file. Raises OSError, also for a pipe or device, which would be waited for."""
    if path.exists() and not (path.is_file() or path.is_dir()):
        raise OSError(errno.EINVAL, "it is a pipe or device, not a file")
    return path.read_bytes()
