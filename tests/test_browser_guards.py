"""The guards of the pages: who comes in, what may be sent, and that the rest gets a plain refusal."""

from __future__ import annotations

import gc
import re
import socket
import struct
import sys
import webbrowser
from collections.abc import Callable
from http.client import HTTPConnection
from pathlib import Path
from threading import Event, Thread
from typing import NamedTuple

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient

from impact.browser import address
from impact.browser.address import Door, open_door
from impact.browser.guards import HEADERS, TRIES, Sessions
from impact.browser.server import application
from impact.cli.commands import main
from tests.folders import write_folder
from tests.pages import serving

HOST = "localhost"


class Clock:
    """Seconds that a test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def client_of(folder: Path, sessions: Sessions, **options: bool) -> FlaskClient:
    return application(folder, hosts=[HOST], sessions=sessions, **options).test_client()


@pytest.fixture
def sessions() -> Sessions:
    return Sessions(Clock())


@pytest.fixture
def stranger(tmp_path: Path, sessions: Sessions) -> FlaskClient:
    return client_of(write_folder(tmp_path / "secret-folder"), sessions)


@pytest.fixture
def known(stranger: FlaskClient, sessions: Sessions) -> FlaskClient:
    assert stranger.post("/enter", data={"code": sessions.shown_code.lower()}).status_code == 200
    return stranger


def token_of(sessions: Sessions) -> str:
    (session,) = sessions.known.values()
    return session.form


def test_stranger_is_asked_for_the_code_and_sees_nothing_else(stranger: FlaskClient) -> None:
    for path in ("/", "/stop", "/nowhere", "/bench"):
        answer = stranger.get(path)
        assert answer.status_code == 401
        assert "asked for it once" in answer.text
        assert "secret-folder" not in answer.text


def test_code_lets_in_and_the_cookie_is_for_this_site_and_no_script(stranger: FlaskClient, sessions: Sessions) -> None:
    answer = stranger.get("/enter", query_string={"code": sessions.code})
    assert answer.status_code == 200
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert len(re.split("[=;]", cookie)[1]) > 40
    assert sessions.code not in cookie
    assert stranger.get("/").status_code in (200, 302)


def test_wrong_codes_are_answered_ten_times_a_minute(stranger: FlaskClient, sessions: Sessions) -> None:
    clock = sessions._clock
    assert isinstance(clock, Clock)
    for _ in range(TRIES):
        assert stranger.post("/enter", data={"code": "WRONG"}).status_code == 403
    assert stranger.post("/enter", data={"code": sessions.code}).status_code == 429
    clock.now = 61.0
    assert stranger.post("/enter", data={"code": sessions.code}).status_code == 200


def test_code_is_no_other_each_time() -> None:
    assert len({Sessions().code for _ in range(50)}) == 50


@pytest.mark.parametrize("host", ["evil.example", "localhost:8421", "127.0.0.1.evil.example", "", "localhost."])
def test_other_host_is_refused_before_anything_is_looked_at(known: FlaskClient, host: str) -> None:
    answer = known.get("/", headers={"Host": host})
    assert answer.status_code in (400, 421)
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "https://localhost"},
        {"Origin": "http://localhost:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_post_from_another_site_is_refused(known: FlaskClient, sessions: Sessions, headers: dict[str, str]) -> None:
    answer = known.post("/stop", data={"token": token_of(sessions)}, headers=headers)
    assert answer.status_code == 403
    assert "another site" in answer.text


@pytest.mark.parametrize("token", ["", "x", "é", "A" * 32])
def test_post_without_the_token_of_its_form_is_refused(known: FlaskClient, token: str) -> None:
    answer = known.post("/stop", data={"token": token})
    assert answer.status_code == 403
    assert "Open the page again" in answer.text


def test_post_that_is_too_large_is_refused(known: FlaskClient, sessions: Sessions) -> None:
    answer = known.post("/stop", data={"token": token_of(sessions), "more": "x" * 2_000_000})
    assert answer.status_code == 413
    assert "too large" in answer.text
    # a length that is told and never sent
    answer = known.post("/stop", headers={"Content-Length": "1000000000"}, input_stream=None)
    assert answer.status_code in (403, 413)


def test_token_of_another_session_is_refused(tmp_path: Path, sessions: Sessions) -> None:
    app = application(write_folder(tmp_path / "w"), hosts=[HOST], sessions=sessions)
    first, second = app.test_client(), app.test_client()
    for one in (first, second):
        one.post("/enter", data={"code": sessions.code})
    a, b = (session.form for session in sessions.known.values())
    assert first.post("/stop", data={"token": b}).status_code == 403
    assert "where it was started" in first.post("/stop", data={"token": a}).text


def test_every_answer_carries_the_headers(known: FlaskClient) -> None:
    for path in ("/", "/nowhere", "/style.css", "/typeface/SourceSansPro-Regular.ttf", "/static/../../server.py"):
        answer = known.get(path)
        assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS
    assert "unsafe" not in HEADERS["Content-Security-Policy"]


@pytest.mark.parametrize("name", ["../server.py", "..%2f..%2fpyproject.toml", "%2e%2e/x", "nothing.ttf", "/etc/passwd"])
def test_files_are_never_found_by_a_path(known: FlaskClient, name: str) -> None:
    for start in ("/typeface/", "/static/"):
        assert known.get(start + name).status_code in (308, 404)


def test_guest_sends_nothing(tmp_path: Path, sessions: Sessions) -> None:
    guest = client_of(write_folder(tmp_path / "w"), sessions, guest=True)
    guest.post("/enter", data={"code": sessions.code})
    answer = guest.post("/stop", data={"token": token_of(sessions)})
    assert answer.status_code == 403
    assert "guest" in answer.text


def test_stop_button_ends_the_server_once_it_has_answered(tmp_path: Path, sessions: Sessions) -> None:
    from threading import Event

    ended = Event()
    app = application(write_folder(tmp_path / "w"), hosts=[HOST], sessions=sessions, stop=ended.set)
    client = app.test_client()
    client.post("/enter", data={"code": sessions.code})
    assert "The program has ended" in client.post("/stop", data={"token": token_of(sessions)}).text
    assert ended.wait(60)


class Shown(NamedTuple):
    """What the command printed, and where it would have served."""

    output: str
    doors: list[Door]
    opened: list[str]


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Shown]:
    """Give the command with its loop and the browser of the machine left out."""

    def run(*arguments: str) -> Shown:
        doors: list[Door] = []
        opened: list[str] = []

        def serve(door: Door, app: object) -> None:
            doors.append(door)
            door.socket.close()

        monkeypatch.setattr(Door, "serve", serve)
        monkeypatch.setattr(webbrowser, "open", opened.append)
        result = CliRunner().invoke(main, ["open", *arguments])
        return Shown(result.output, doors, opened)

    return run


def test_open_says_where_the_pages_and_the_folder_are(command: Callable[..., Shown], tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "w")
    shown = command(str(folder), "--port", "0")
    (door,) = shown.doors
    assert door.address.startswith("127.0.0.1:")
    assert f"pages:   http://{door.address}\n" in shown.output
    assert str(folder) in shown.output
    code = re.search(r"code:    (\w{4})-(\w{4})", shown.output)
    assert code is not None
    assert shown.opened == [f"http://{door.address}/enter?code={code[1]}{code[2]}"]
    assert "█" not in shown.output
    assert command(str(folder), "--port", "0", "--no-browser").opened == []


def test_open_lan_prints_a_picture_to_scan_and_that_nothing_is_encrypted(
    command: Callable[..., Shown], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(address, "_address_in_network", lambda: "127.0.0.3")
    shown = command(str(write_folder(tmp_path / "w")), "--lan", "--guest", "--port", "0", "--no-browser")
    (door,) = shown.doors
    assert door.address.startswith("127.0.0.3:")
    assert door.hosts == (door.address,)
    assert "figures alone" in shown.output
    assert "█" in shown.output
    assert "Nothing is encrypted" in shown.output


def test_open_port_that_is_taken_is_one_line(command: Callable[..., Shown], tmp_path: Path) -> None:
    taken = open_door(0, lan=False)
    taken.socket.listen()
    port = taken.address.rpartition(":")[2]
    shown = command(str(tmp_path), "--port", port)
    taken.socket.close()
    assert shown.doors == []
    assert shown.output.count("\n") == 1
    assert f"--port {int(port) + 1}" in shown.output


def test_open_file_and_folder_of_workshops_are_wrong_calls(command: Callable[..., Shown], tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    file.write_text("x")
    assert "is a file" in command(str(file)).output
    for name in ("north", "south"):
        write_folder(tmp_path / "all" / name)
    assert "name one: north, south" in command(str(tmp_path / "all")).output


def test_server_answers_over_the_wire_and_stops_by_its_button(tmp_path: Path) -> None:
    with serving(write_folder(tmp_path / "w")) as (place, sessions):
        host = place.removeprefix("http://")
        asking = HTTPConnection(host)
        asking.request("POST", "/enter", headers={"Content-Length": "1000000000"})  # one gigabyte that never comes
        answer = asking.getresponse()
        assert answer.status == 413
        assert b"Traceback" not in answer.read()
        asking.close()
        asking = HTTPConnection(host)
        asking.request("GET", f"/enter?code={sessions.code}")
        answer = asking.getresponse()
        answer.read()
        cookie = str(answer.headers["Set-Cookie"]).partition(";")[0]
        (session,) = sessions.known.values()
        body = f"token={session.form}"
        kind = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
        asking.request("POST", "/stop", body, kind)
        assert b"The program has ended" in asking.getresponse().read()
        asking.close()


def test_file_is_closed_where_the_browser_went_away_before_it_came(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lost, asked, gone = [], Event(), Event()
    monkeypatch.setattr(sys, "unraisablehook", lambda seen: lost.append(str(seen.exc_value)))
    door = open_door(0, lan=False)
    app = application(write_folder(tmp_path / "w"), hosts=door.hosts, sessions=Sessions(), stop=door.stop)

    @app.before_request
    def wait_until_it_is_gone() -> None:
        asked.set()
        gone.wait()

    app.teardown_request(lambda _: door.stop())
    asking = socket.create_connection(door.socket.getsockname())
    asking.sendall(f"GET /static/bench.js HTTP/1.1\r\nHost: {door.address}\r\n\r\n".encode())
    serving_it = Thread(target=door.serve, args=(app,))
    serving_it.start()
    asked.wait()
    asking.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    asking.close()
    gone.set()
    serving_it.join()
    gc.collect()
    assert lost == []
