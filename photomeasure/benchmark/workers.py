"""How is work spread over processes so that results stay the same and in order?"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from typing import TypeVar

import cv2

from photomeasure.benchmark.tables import Settings

Given = TypeVar("Given")
Made = TypeVar("Made")

_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


def spread(
    settings: Settings, words: str, work: Callable[[Given], Made], items: Sequence[Given]
) -> list[Made]:
    """work(item) for every item, in order, telling how many are done.

    work : a function of a module, so that a new process can import it. With one worker
    nothing is started and all happens here.
    """
    if settings.workers == 1:
        return list(_told(settings, words, len(items), map(work, items)))
    with _environment(_ONE_THREAD), _pool(settings.workers) as pool:
        return list(_told(settings, words, len(items), pool.map(work, items)))


def _pool(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, get_context("spawn"), cv2.setNumThreads, (1,))


def _told(settings: Settings, words: str, count: int, made: Iterator[Made]) -> Iterator[Made]:
    settings.progress(f"{words}: 0 of {count}")
    for done, one in enumerate(made, 1):
        settings.progress(f"{words}: {done} of {count}")
        yield one
    settings.progress("")


@contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    """Variables that a process reads as it starts; what was there comes back."""
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, old in before.items():
            if old is None:
                del os.environ[name]
            else:
                os.environ[name] = old
