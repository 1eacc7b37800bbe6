"""A folder served for a test: by the test client, or by a real server beside the test; its clock is moved by the test."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from html import unescape
from itertools import count
from pathlib import Path
from threading import Thread
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from impact.browser.address import open_door
from impact.browser.guards import Sessions
from impact.browser.server import application

HOST = "localhost"
BEGINS = datetime(2026, 11, 30, 9, 30, tzinfo=timezone(timedelta(hours=1)))
"""A morning after the last batch of the demo."""


class Clock:
    """A time of day that stands still until a test moves it."""

    def __init__(self, start: datetime = BEGINS) -> None:
        self.time = start

    def __call__(self) -> datetime:
        return self.time

    def pass_(self, **how_long: float) -> None:
        self.time += timedelta(**how_long)


class Phone:
    """A device without a script: it gets pages, and sends their forms with a key of its own."""

    keys = count(1)

    def __init__(self, client: FlaskClient, sessions: Sessions) -> None:
        self.client = client
        before = set(sessions.known)
        client.post("/enter", data={"code": sessions.code})
        (token,) = set(sessions.known) - before
        self.form = sessions.known[token].form

    def get(self, path: str) -> str:
        answer = self.client.get(path, follow_redirects=True)
        assert answer.status_code == 200, answer.text
        return unescape(answer.text)

    def send(self, path: str, *, key: str = "", follow: bool = True, **fields: Any) -> TestResponse:
        data = {name.replace("__", " "): value for name, value in fields.pop("data", {}).items()} | fields
        key = key or f"key-of-test-{next(self.keys)}"
        return self.client.post(path, data={"token": self.form, "key": key, **data}, follow_redirects=follow)

    def does(self, path: str, **fields: Any) -> str:
        """Send a form that has to be taken; return the page that follows."""
        answer = self.send(path, **fields)
        assert answer.status_code == 200, f"{path}: {re.findall('<main.*?</main>', answer.text, re.DOTALL)}"
        return unescape(answer.text)

    def opens(self, part: str, name: str = "") -> str:
        """Open a batch; return where it stands."""
        answer = self.send("/bench/open", part=part, name=name, follow=False)
        assert answer.status_code == 303, answer.text
        return str(answer.headers["Location"])

    def sets(self, batch: str, **fields: str) -> str:
        """Type into fields of an open batch that hold nothing yet; a double underscore is a blank."""
        return self.does(f"{batch}/set", data={f"f.{name}": text for name, text in fields.items()})


def phones(folder: Path, clock: Clock | None = None, how_many: int = 1) -> list[Phone]:
    """Return devices that came in to one server of a folder."""
    sessions = Sessions()
    app = application(folder, hosts=[HOST], sessions=sessions, now=clock or Clock())
    return [Phone(app.test_client(), sessions) for _ in range(how_many)]


@contextmanager
def serving(folder: Path, clock: Clock | None = None, port: int = 0) -> Iterator[tuple[str, Sessions]]:
    """Serve a folder at a port of this machine; give the address and who came in."""
    door = open_door(port, lan=False)
    sessions = Sessions()
    app = application(folder, hosts=door.hosts, sessions=sessions, now=clock or Clock(), stop=door.stop)
    thread = Thread(target=door.serve, args=(app,))
    thread.start()
    try:
        yield f"http://{door.address}", sessions
    finally:
        door.stop()
        thread.join()
