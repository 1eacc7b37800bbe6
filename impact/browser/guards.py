"""Who may come in, and what may be sent: asked before any page, in one place.

A device comes in by the code that the program prints, and is known by a random token in a cookie until the server
stops. What is sent carries the token of its session once more, in the form or in a header, where no other site can
read it.
"""

from __future__ import annotations

import secrets
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from time import monotonic

from flask import Flask, Response, g, render_template, request
from werkzeug.exceptions import HTTPException

from impact.browser.pages import SMALL, Page

CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Letters of a code: none that is taken for another when it is read aloud or typed."""
CODE_LENGTH = 8
TRIES, MINUTE = 10, 60.0
"""Wrong codes that are answered within so many seconds, from all devices together; our own choice."""
FIELD, HEADER = "token", "X-Form-Token"
SAFE = ("GET", "HEAD")
HEADERS = {
    # Scripts, styles, letters and pictures come from here alone, and no form leads elsewhere.
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
    "img-src 'self' data:; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # No other site learns of this one. `no-referrer` would make browsers hide the origin of our own forms from us too.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
OPEN = ("enter", "static", "style", "typeface")
"""What a device gets before it is known: the question for the code, and how that looks."""


@dataclass
class Session:
    """One device that came in.

    Attributes
    ----------
    form : str
        Token that everything it sends has to carry.
    said : list of str
        What the next page tells it once.
    """

    form: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    said: list[str] = field(default_factory=list)

    def told_once(self) -> list[str]:
        """Return what is to be told, and forget it; a page that is renewed in part tells nothing and forgets nothing."""
        found, self.said = self.said, []
        return found


class Sessions:
    """The devices that came in, and the code that lets in more; all of it ends with the server.

    Parameters
    ----------
    clock : callable
        Seconds that never go back.
    """

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self.code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
        self.known: dict[str, Session] = {}
        self._clock = clock
        self._wrong: deque[float] = deque(maxlen=TRIES)

    @property
    def shown_code(self) -> str:
        """The code as it is printed, in two halves."""
        return f"{self.code[: CODE_LENGTH // 2]}-{self.code[CODE_LENGTH // 2 :]}"

    def waits(self) -> bool:
        """Return whether so many wrong codes came in that the next is not looked at."""
        return len(self._wrong) == TRIES and self._clock() - self._wrong[0] < MINUTE

    def enter(self, typed: str) -> str | None:
        """Return the token of a new session, or None for a wrong code."""
        plain = "".join(mark for mark in typed.upper() if mark.isalnum())
        if not secrets.compare_digest(plain.encode(), self.code.encode()):
            self._wrong.append(self._clock())
            return None
        token = secrets.token_urlsafe(32)
        self.known[token] = Session()
        return token


class RefusedError(HTTPException):
    """Refuses a request with a sentence in plain words.

    Parameters
    ----------
    code : int
        Status as HTTP has it.
    words : str
        What is wrong, and what would be accepted.
    """

    def __init__(self, code: int, words: str) -> None:
        self.code = code
        super().__init__(words)


def say(words: str) -> None:
    """Let the next page that this device gets tell it something once."""
    if words not in g.session.said:
        g.session.said.append(words)


def cookie_name() -> str:
    """Return the name of the cookie, which browsers share between the ports of one machine."""
    return f"impact-{request.host.rpartition(':')[2] if ':' in request.host else '80'}"


def guard(app: Flask, sessions: Sessions, hosts: Iterable[str], pages: Iterable[Page], *, guest: bool) -> None:
    """Put the guards before every page of an application.

    Parameters
    ----------
    app : Flask
        The application.
    sessions : Sessions
        Who came in.
    hosts : iterable of str
        Names with port under which it is reached; a request for any other is refused, so that no name of a stranger's
        that was made to lead here can read along.
    pages : iterable of Page
        Its pages.
    guest : bool
        Whether all who come in are guests.
    """
    accepted = frozenset(hosts)
    by_blueprint = {page.blueprint.name: page for page in pages}

    @app.before_request
    def ask() -> None:
        if request.host not in accepted:
            raise RefusedError(421, "This address is not the one that the program printed. Type that one.")
        page = by_blueprint.get(request.blueprint or "")
        request.max_content_length = page.limit if page else SMALL
        if request.method not in SAFE:
            _require_own_origin(accepted)
        found = sessions.known.get(request.cookies.get(cookie_name(), ""))
        g.session = found
        if request.endpoint in OPEN:
            return
        if found is None:
            raise RefusedError(401, "This device is not known yet.")
        if request.method not in SAFE:
            _require_token(found)
        if guest and ((page and not page.guests) or request.method not in SAFE):
            raise RefusedError(403, "You are a guest here: guests read the figures and change nothing.")

    @app.after_request
    def tell(answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        if request.endpoint not in ("static", "style", "typeface"):
            answer.headers["Cache-Control"] = "no-store"
        return answer

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> tuple[str, int]:
        if error.code == 401:
            return render_template("enter.html", wrong=""), 401
        return render_template("refused.html", code=error.code, words=_words(error)), error.code or 500


def _require_own_origin(accepted: frozenset[str]) -> None:
    """Refuse what another site sends. A browser tells the origin of whatever it sends; another program need not."""
    origin = request.headers.get("Origin")
    if origin is not None and origin.removeprefix("http://") not in accepted:
        raise RefusedError(
            403, "This was sent by a page of another site. Only pages of this workshop may send anything."
        )
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise RefusedError(
            403, "This was sent by a page of another site. Only pages of this workshop may send anything."
        )


def _require_token(session: Session) -> None:
    sent = request.headers.get(HEADER) or request.form.get(FIELD, "")
    if not secrets.compare_digest(sent.encode(), session.form.encode()):
        raise RefusedError(
            403, "This form is not one that the running program gave out. Open the page again and send it from there."
        )


WORDS = {
    404: "There is no page of this name.",
    405: "This page does not take that.",
    413: "What was sent is too large for this page.",
    500: "Something went wrong in the program. Nothing that was saved before is lost.",
}


def _words(error: HTTPException) -> str:
    if isinstance(error, RefusedError):
        return error.description or ""
    return WORDS.get(error.code or 500, error.description or "This cannot be done.")
