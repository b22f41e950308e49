"""How does a phone get here? An address of this computer, a key in it, and a QR code of both."""

from __future__ import annotations

import io
import socket

import segno

from photomeasure.web.gate import ENTRANCE


def lan_address() -> str | None:
    """The IPv4 address that this computer has in its network; None without one.

    Asks the routing table which address would be used; nothing is sent.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): leads nowhere
            address = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if address.startswith(("127.", "0.")) else address


def door_link(address: str, port: int, key: str) -> str:
    """The link that lets one browser in, once."""
    return f"http://{address}:{port}{ENTRANCE}?key={key}"


def qr_svg(text: str) -> str:
    """Its QR code, black on white with the quiet zone that readers want."""
    out = io.BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(out, kind="svg", scale=8, border=4, light="#fff", xmldecl=False, svgclass=None)
    return out.getvalue().decode()


def qr_text(text: str) -> str:
    """Its QR code for a terminal."""
    out = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(out, border=2, compact=True)
    return out.getvalue()
