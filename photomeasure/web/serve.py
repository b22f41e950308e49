"""How does the page come up? A free port, a server, a browser, and the code for phones."""

from __future__ import annotations

import logging
import shutil
import socket
import tempfile
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from photomeasure.errors import JobError
from photomeasure.web.app import Setting, create_app
from photomeasure.web.gate import Gate
from photomeasure.web.keys import Keys
from photomeasure.web.lan import door_link, lan_address, qr_text

USUAL_PORT = 8474
_PORTS_TRIED = 20
_LOOPBACK = "127.0.0.1"

Say = Callable[[str], None]


@dataclass(frozen=True)
class Wishes:
    """How to serve. port : None for the usual one, or the next that is free."""

    lan: bool = False
    port: int | None = None
    browser: bool = True


def serve(path: Path, sample: Path | None, wishes: Wishes, say: Say) -> None:
    """Serve one job until the user stops it. Raises JobError when no port is free."""
    address = lan_address() if wishes.lan else None
    if wishes.lan and address is None:
        raise JobError(
            "This computer has no address in a network, so no phone can come in. Connect it to "
            "the network of the phone, or leave out --lan."
        )
    with _listening(wishes, "0.0.0.0" if address else _LOOPBACK) as listener, _copy(sample) as own:
        port = int(listener.getsockname()[1])
        keys = Keys() if address else None

        def new_door() -> str:
            assert address is not None
            assert keys is not None
            return door_link(address, port, keys.new())

        app = create_app(Setting(path, own, new_door if keys else None, keys))
        here = f"http://{_LOOPBACK}:{port}/"
        say(f"Open {here} (stop with Ctrl+C).")
        if keys is not None:
            link = new_door()
            say(f"On the phone, once: {link}\n{qr_text(link)}")
        if wishes.browser:
            webbrowser.open(here)
        gate = Gate(app, _hosts(port, address), keys)
        logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
        config = uvicorn.Config(
            gate,
            log_level="warning",
            access_log=False,
            ws="none",
            proxy_headers=False,  # or a header could say that a phone is this computer
            server_header=False,
        )
        uvicorn.Server(config).run(sockets=[listener])


def _hosts(port: int, address: str | None) -> list[str]:
    names = [_LOOPBACK, "localhost", *([address] if address else [])]
    return [f"{name}:{port}" for name in names]


@contextmanager
def _listening(wishes: Wishes, host: str) -> Iterator[socket.socket]:
    first = USUAL_PORT if wishes.port is None else wishes.port
    tried = _PORTS_TRIED if wishes.port is None else 1
    for port in range(first, first + tried):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, port))
            listener.listen()  # from now on whoever comes waits, and is not refused
        except (OSError, OverflowError):
            listener.close()
            continue
        with listener:
            yield listener
        return
    raise JobError(
        f"Port {first} is taken by another program, or may not be used. Name another one: --port."
    )


@contextmanager
def _copy(sample: Path | None) -> Iterator[Path | None]:
    """A copy of the sample job that is thrown away: things are tried out in it."""
    if sample is None:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="photomeasure-sample-") as folder:
        own = Path(folder) / sample.parent.name
        shutil.copytree(sample.parent, own)
        yield own / sample.name
