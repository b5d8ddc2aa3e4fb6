"""Loopback only, no foreign names, no foreign pages, no forged uploads; the program's own start and end."""

from __future__ import annotations

import signal
import socket
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from browsing import Pages

HANDSHAKE = (  # RFC 6455, section 4.1
    "GET /_stcore/stream HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\nOrigin: {origin}\r\n\r\n"
)


def handshake(port: int, host: str, origin: str) -> int:
    """The status with which the pages answer a request for the channel on which all data travels."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall(HANDSHAKE.format(host=host, origin=origin).encode("ascii"))
        return int(line.recv(100).split()[1])


@pytest.mark.parametrize(
    ("host", "origin", "status"),
    [
        ("localhost:{port}", "http://localhost:{port}", 101),
        ("127.0.0.1:{port}", "http://127.0.0.1:{port}", 101),
        ("evil.example:{port}", "http://evil.example:{port}", 403),  # a name that was made to point here
        ("localhost:{port}", "http://evil.example", 403),  # a foreign page in the same browser
        ("localhost.evil.example", "http://localhost.evil.example", 403),
    ],
)
def test_only_the_own_pages_get_at_the_data(pages: Pages, host: str, origin: str, status: int) -> None:
    assert handshake(pages.port, host.format(port=pages.port), origin.format(port=pages.port)) == status


def test_an_upload_from_elsewhere_is_refused(pages: Pages) -> None:
    request = urllib.request.Request(f"{pages.url}/_stcore/upload_file/a/b", data=b"x", method="PUT")
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request)
    refused.value.close()
    assert refused.value.code == 403


def test_nothing_listens_for_the_network(pages: Pages) -> None:
    with pytest.raises(OSError, match=r".+"):
        socket.create_connection(("127.0.0.2", pages.port), timeout=5)  # loopback too, but not the address given


def test_a_second_start_takes_the_next_port_and_ends_quietly(pages: Pages, tmp_path: Path) -> None:
    second = Pages(home=tmp_path, port=pages.port)
    second.start()
    assert second.stop(signal.SIGINT) == 0
    said = " ".join(" ".join(second.said).split())
    assert f"Port {pages.port} is taken (perhaps panwise is open already); using {pages.port + 1}." in said
    assert f"panwise is open at http://localhost:{pages.port + 1}" in said
    assert "Traceback" not in said
    assert "Aborted" not in said
