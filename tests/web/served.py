"""A browser for one job file, without a network."""

from starlette.testclient import TestClient

from photomeasure.web.app import Setting, create_app
from photomeasure.web.gate import Gate

HOST = "127.0.0.1:8474"
HERE = ("127.0.0.1", 50000)


def client_of(path, *, hosts=(HOST,), keys=None, doors=None, peer=HERE, host=HOST):
    """A browser on this computer, or at another address."""
    app = Gate(create_app(Setting(path, None, doors, keys)), hosts, keys)
    return TestClient(app, base_url=f"http://{host}", client=peer, raise_server_exceptions=False)
