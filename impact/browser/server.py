"""The application: pages behind guards, on the addresses that are printed, until it is stopped."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import datetime
from functools import cache
from pathlib import Path
from secrets import token_urlsafe
from threading import Timer
from typing import Any

from flask import Flask, Response, abort, g, make_response, redirect, render_template, request
from jinja2 import StrictUndefined
from markupsafe import Markup
from werkzeug.wrappers import Response as Answer

from impact import __version__
from impact.base.places import templates_folder
from impact.browser.guards import FIELD, RefusedError, Sessions, cookie_name, guard
from impact.browser.logtable import TableError
from impact.browser.pages import Page, pages
from impact.browser.served import EXTENSION, Served, local_now
from impact.report.faces import face_rule, font_faces
from impact.report.screen import dark_rules

PORT = 8420
"""Where the pages stand unless another port is asked for."""

LARGEST = 60_000_000
"""Most that is taken in at all, before a page's own limit is asked. [bytes]"""


def application(
    folder: Path,
    *,
    hosts: Iterable[str] = (f"127.0.0.1:{PORT}",),
    guest: bool = False,
    now: Callable[[], datetime] = local_now,
    sessions: Sessions | None = None,
    stop: Callable[[], None] | None = None,
) -> Flask:
    """Return the application that serves a workshop folder.

    Parameters
    ----------
    folder : Path
        The folder; it need not exist yet.
    hosts : iterable of str
        Names with port under which it is reached.
    guest : bool
        Whether whoever comes in reads figures and nothing else.
    now : callable
        The time of day.
    sessions : Sessions, optional
        Who came in; by default nobody, with a code of its own.
    stop : callable, optional
        Ends the server; without it there is no button for that.
    """
    place = templates_folder() / "browser"
    app = Flask("impact.browser", template_folder=str(place), static_folder=str(place / "static"))
    app.jinja_options = {"undefined": StrictUndefined, "trim_blocks": True, "lstrip_blocks": True}
    app.extensions[EXTENSION] = served = Served(folder, guest, now)
    found = list(pages())
    who = sessions or Sessions()
    guard(app, who, hosts, found, guest=guest)
    for page in found:
        app.register_blueprint(page.blueprint, url_prefix=page.path)
    _common(app, who, stop)
    _home(app, served, found)
    _enter(app, who)
    return app


def _common(app: Flask, who: Sessions, stop: Callable[[], None] | None) -> None:
    """Add what all pages share: their look, what their templates know, the button that stops it all."""

    @app.get("/style.css")
    def style() -> Response:
        return Response(sheet(), mimetype="text/css", headers={"Cache-Control": "max-age=300"})

    @app.get("/typeface/<name>")
    def typeface(name: str) -> Response:
        path = face(name)
        if path is None:
            abort(404)
        return Response(path.read_bytes(), mimetype="font/ttf", headers={"Cache-Control": "max-age=604800"})

    @app.post("/stop")
    def stopping() -> str:
        if stop is None:
            raise RefusedError(403, "This program is stopped where it was started.")
        Timer(0.3, stop).start()  # once this answer is out
        return render_template("stopped.html")

    @app.errorhandler(TableError)
    def untouched(error: TableError) -> tuple[str, int]:
        return render_template("refused.html", code=409, words=str(error)), 409

    @app.context_processor
    def known() -> dict[str, Any]:
        session = g.get("session")
        token = session.form if session else ""
        hidden = Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, token)
        return {
            "form_token": token,
            "hidden": lambda: hidden,
            "new_key": lambda: token_urlsafe(12),
            "said": session.told_once if session else list,
            "can_stop": stop is not None,
            "version": __version__,
        }


def _home(app: Flask, served: Served, found: list[Page]) -> None:
    """Lead to the page that comes first: for a guest, for a folder without a workshop, else the first of all."""
    offered = [page for page in found if page.name and (page.guests or not served.guest)]
    beginning = next((page for page in found if page.first), None)

    @app.get("/")
    def home() -> Answer | str:
        if served.exists and offered:
            return redirect(offered[0].path)
        if not served.exists and beginning is not None and not served.guest:
            return redirect(beginning.path)
        return render_template("nothing.html", folder=str(served.path.resolve()))

    @app.before_request
    def lead() -> Answer | None:
        page = next((one for one in found if one.blueprint.name == request.blueprint), None)
        return redirect("/") if page is not None and not page.first and not served.exists else None

    @app.context_processor
    def places() -> dict[str, Any]:
        here = request.blueprint
        shown = offered if served.exists and g.get("session") else []
        return {
            "folder_name": served.path.resolve().name if g.get("session") else "pulp-impact",
            "guest": served.guest,
            "now": served.now().isoformat(),
            "places": [(page.name, page.path, page.blueprint.name == here) for page in shown],
        }


def _enter(app: Flask, who: Sessions) -> None:
    """Ask a device for the code, once."""

    @app.route("/enter", methods=["GET", "POST"])
    def enter() -> Answer | tuple[str, int]:
        typed = request.values.get("code", "")
        if not typed:
            return render_template("enter.html", wrong=""), 200
        if who.waits():
            return render_template(
                "enter.html", wrong="Too many wrong codes came in. Wait a minute, then try again."
            ), 429
        token = who.enter(typed)
        if token is None:
            return render_template("enter.html", wrong="This is not the code that the program printed."), 403
        # No redirect: after a link from elsewhere a browser would follow it without the new cookie.
        answer = make_response(render_template("entered.html"))
        answer.set_cookie(cookie_name(), token, httponly=True, samesite="Strict", path="/")
        return answer


@cache
def sheet() -> str:
    """Return the style sheet of all pages: faces, the colours that ``report.css`` names, and the rules of the pages."""
    faces = [face_rule(weight, shape, f"/typeface/{path.name}") for weight, shape, path in font_faces()]
    paper = (templates_folder() / "report.css").read_text(encoding="utf-8")
    colours = next(iter(re.findall(r"^:root \{.*\}$", paper, re.MULTILINE)))
    own = (path.read_text(encoding="utf-8") for path in sorted((templates_folder() / "browser").glob("*.css")))
    return "\n".join([*faces, colours, dark_rules(colours), *own])


def face(name: str) -> Path | None:
    """Return the file of a face of the typeface by its name, None for any other name."""
    return next((path for _, _, path in font_faces() if path.name == name), None)
