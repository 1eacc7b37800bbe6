"""Where the pages are found, and the loop that serves them."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from threading import Event
from typing import TYPE_CHECKING

from impact.browser.server import LARGEST

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment
    from flask import Flask

CONNECTIONS, IDLE = 500, 20
"""Connections that are held at once, which are six or so for each browser, and how long one that is idle is held [s]; our own choice."""

HERE = "127.0.0.1"
ELSEWHERE = "192.0.2.1"
"""An address that nobody has (RFC 5737): asking for the way there sends nothing, and tells which address is used for it."""


class AddressError(Exception):
    """Raised when pages cannot be served where they were asked for; the text is the one line to print."""


@dataclass
class Door:
    """An open socket at the address that is printed.

    Attributes
    ----------
    address : str
        Address and port.
    socket : socket
        Bound, and not listening yet.
    """

    address: str
    socket: socket.socket
    _stopped: Event = field(default_factory=Event)
    _wake: Callable[[], None] | None = None

    @property
    def hosts(self) -> tuple[str, ...]:
        """Every name with port under which a browser may ask for the pages."""
        name, _, port = self.address.rpartition(":")
        names = (name, "localhost") if name == HERE else (name,)
        return tuple(f"{one}:{port}" for one in names)

    def serve(self, app: Flask) -> None:
        """Serve an application until `stop` is called or the program is interrupted."""
        from waitress import create_server

        # a wrong or closed connection is the browser's affair, not one for the terminal
        server = create_server(
            partial(_closing_files, app.wsgi_app),
            sockets=[self.socket],
            threads=8,
            max_request_body_size=LARGEST,
            connection_limit=CONNECTIONS,
            channel_timeout=IDLE,
            cleanup_interval=IDLE // 2,
            ident=None,
            clear_untrusted_proxy_headers=True,
        )

        self._wake = server.pull_trigger
        try:
            while not self._stopped.is_set():
                server.asyncore.loop(timeout=1.0, map=server._map, use_poll=True, count=1)
        except KeyboardInterrupt:
            pass
        finally:
            self._stopped.set()
            server.task_dispatcher.shutdown()
            server.asyncore.close_all(server._map)

    def stop(self) -> None:
        """End the loop of `serve`, from any thread; once is enough."""
        if not self._stopped.is_set():
            self._stopped.set()
            if self._wake is not None:
                self._wake()


def open_door(port: int, *, lan: bool) -> Door:
    """Return a door for this machine alone, or for the network that it is in.

    Parameters
    ----------
    port : int
        The port; 0 takes any that is free.
    lan : bool
        Whether other devices of the network may come in.

    Raises
    ------
    AddressError
        There is no network, or the port is taken.
    """
    address = _address_in_network() if lan else HERE
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((address, port))
        found.listen()
    except OSError as error:
        found.close()
        raise AddressError(
            f"nothing can be served at {address}:{port} ({error.strerror}); another port: --port {port + 1}"
        ) from None
    return Door(f"{address}:{found.getsockname()[1]}", found)


def _closing_files(app: WSGIApplication, environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
    """Answer without the server's own way to send a file, which leaves it open where the browser went away meanwhile."""
    environ.pop("wsgi.file_wrapper", None)
    return app(environ, start)


def _address_in_network() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((ELSEWHERE, 9))
            address = str(asking.getsockname()[0])
        except OSError:
            address = HERE
    if address.startswith("127."):
        raise AddressError("this machine is in no network; join one, or leave --lan out")
    return address
