"""Names, notes and sources that try to reach out, or to become markup or a template: they stay text, nothing is fetched."""

from __future__ import annotations

import logging
import socket
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from impact.api import load
from impact.report.context import compose
from impact.report.faces import font_faces
from impact.report.html import page
from impact.report.layout.pdf import pdf_of
from impact.report.request import Request
from tests.folders import BATCHES, PARTS, TOML, swap, write_folder

# each is put where people write names, notes and sources; none may reach out or become markup
HOSTILE_NAMES = (
    "<img src=http://example.org/a.png>",
    "<img src='file:///etc/passwd'>",
    "<p style='background:url(http://example.org/b)'>",
    "</style><style>@import 'http://example.org/c';</style>",
    "<svg><image href='http://example.org/d'/><script>x</script></svg>",
    "{% include '/etc/passwd' %}{{ ''.__class__.__mro__ }}",
    "<img src='data:image/svg+xml,<svg/>'>",
    "<a href='javascript:x'>e</a><link rel=attachment href=file:///etc/passwd>",
    "]]><!ENTITY x SYSTEM 'file:///etc/passwd'>&x;",
)


class Reaching(HTMLParser):
    """Every place that a page names, and what its style says."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.places: list[str] = []
        self.style = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.places += [value or "" for name, value in attrs if name in ("src", "href", "srcset", "data", "action")]
        self.style += "".join(value or "" for name, value in attrs if name == "style")

    def handle_data(self, data: str) -> None:
        if self.lasttag == "style":
            self.style += data


def test_report_hostile_names_everywhere_fetch_nothing_and_stay_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(*_: object) -> None:
        pytest.fail("a connection was tried")

    opened: list[str] = []
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    monkeypatch.setattr(socket.socket, "connect", refuse)
    rows, (header, _, model) = PARTS.splitlines(), BATCHES.splitlines()
    part = HOSTILE_NAMES[0]
    batches = [
        model.replace("002,", f'"{name}",', 1).replace(",tray,", f',"{part}",').replace("3,,,", f'3,,"{name}","{name}"')
        for name in HOSTILE_NAMES
    ]
    write_folder(
        tmp_path,
        workshop=swap(swap(TOML, "Paper Bench", HOSTILE_NAMES[4]), "bin audit, two weeks", HOSTILE_NAMES[5]),
        parts="\n".join([rows[0], rows[2].replace("tray,", f'"{part}",', 1)]) + "\n",
        batches="\n".join([header, *batches]) + "\n",
    )
    (tmp_path / "factors.csv").write_text(
        f'id,value,unit,source,locator,what,notes\npart.moisture,0.06,1,"{HOSTILE_NAMES[0]}","{HOSTILE_NAMES[3]}",'
        f'"{HOSTILE_NAMES[7]}","{HOSTILE_NAMES[8]}"\n',
        encoding="utf-8",
    )
    report = compose(load(tmp_path).assess(draws=100), Request())
    text = page(report, {}, inline_fonts=False)
    found = Reaching()
    found.feed(text)
    assert not found.tags & {"script", "link", "image", "iframe", "object", "embed", "base"}
    assert [place for place in found.places if not place.startswith(("#", "data:image/svg+xml;base64,"))] == []
    assert "example.org" not in found.style
    assert HOSTILE_NAMES[0] in unescape(text)
    from weasyprint import urls

    fetched = urls.URLFetcher.fetch
    monkeypatch.setattr(
        urls.URLFetcher, "fetch", lambda self, url, headers=None: opened.append(url) or fetched(self, url, headers)
    )
    with caplog.at_level(logging.DEBUG, logger="weasyprint"):
        assert pdf_of(text).startswith(b"%PDF")
    assert "reports fetch nothing" not in caplog.text
    assert opened
    assert [url for url in opened if not url.startswith(("data:image/svg+xml;base64,", "file://"))] == []
    assert {url for url in opened if url.startswith("file:")} <= {path.as_uri() for _, _, path in font_faces()}
