"""Figures, what if, reports, set-up and the ten questions in a real browser: by keyboard, at 390 px, in the dark.

Checked against, from outside:

- WCAG 2.0 to 2.2, A and AA, and best practices: axe-core in headless Chromium
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from impact.browser.setup.asked import QUESTIONS
from tests.folders import BATCHES, TOML, swap, write_folder
from tests.office import chromium
from tests.pages import serving
from tests.test_html import DESKTOP, FLAGS, PATIENCE_MS, PLACES, RULES, USUAL_PHONE, too_wide, violations

GRANTS = '\n[[grants]]\nname = "City Fund"\nstart = 2026-01-01\nend = 2026-12-31\nshare = 0.5\n'
PAGES = (
    "/figures", "/figures/flow", "/figures/why?of=net_kgco2e.value", "/what-if?part=pot&drying=50&life=many",
    "/what-if/keep?part=pot&life=90", "/reports", "/setup", "/setup/workshop", "/setup/moulds", "/setup/parts",
    "/setup/grants", "/setup/editions",
)  # fmt: skip


class Shown(NamedTuple):
    """A page of a served folder, with all that it asked for and all that the console had to say."""

    page: Page
    address: str
    folder: Path
    asked: list[str]
    said: list[str]

    def goes(self, path: str) -> Page:
        self.page.goto(f"{self.address}{path}")
        return self.page


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=PATIENCE_MS)
    with chromium(args=list(FLAGS), timeout=PATIENCE_MS) as started:
        yield started


def shown_of(browser: Browser, folder: Path) -> Iterator[Shown]:
    with serving(folder) as (address, sessions):
        page = browser.new_page(viewport=USUAL_PHONE)
        page.set_default_timeout(PATIENCE_MS)
        asked: list[str] = []
        said: list[str] = []
        page.on("request", lambda seen: asked.append(seen.url))
        page.on("console", lambda seen: said.append(seen.text))
        page.on("pageerror", lambda seen: said.append(str(seen)))
        page.goto(f"{address}/enter?code={sessions.code}")
        page.wait_for_url(f"{address}/**")
        yield Shown(page, address, folder, asked, said)
        page.close()


@pytest.fixture(scope="module")
def shown(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shown]:
    text = TOML.replace("date = 2026-04-01\n", "") + GRANTS
    yield from shown_of(browser, write_folder(tmp_path_factory.mktemp("rooms") / "bench", workshop=text))


def test_pages_break_no_rule_of_accessibility_and_do_not_scroll_sideways(shown: Shown) -> None:
    found = {}
    for path in PAGES:
        page = shown.goes(path)
        for size, rules in ((USUAL_PHONE, RULES), (DESKTOP, PLACES)):
            page.set_viewport_size(size)
            broken = [*violations(page, rules), *too_wide(page)]
            found |= {f"{path} at {size['width']}": broken} if broken else {}
        page.set_viewport_size(USUAL_PHONE)
    assert found == {}


def test_pages_in_the_dark_every_word_stands_out(shown: Shown) -> None:
    rules = {"runOnly": ["color-contrast"], "resultTypes": ["violations"]}
    shown.page.emulate_media(color_scheme="dark")
    found = {path: violations(shown.goes(path), rules) for path in PAGES}
    shown.page.emulate_media(color_scheme="light")
    assert {path: broken for path, broken in found.items() if broken} == {}


def test_pages_with_text_twice_as_large_do_not_scroll_sideways(shown: Shown) -> None:
    found = {}
    for path in ("/figures", "/what-if?part=pot", "/reports", "/setup/moulds"):
        page = shown.goes(path)
        page.evaluate("document.documentElement.style.fontSize = '212.5%'")
        found[path] = too_wide(page)
    assert {path: wide for path, wide in found.items() if wide} == {}


def test_figures_follow_the_records_while_one_looks(shown: Shown) -> None:
    page = shown.goes("/figures?grant=none")
    figure = page.locator("[id='f.paper.weighed_kg.value']")
    before = figure.inner_text()
    (shown.folder / "batches.csv").write_text(swap(BATCHES, "pot,1.2,300", "pot,1.25,300"))
    page.locator(".changed").first.wait_for()
    expect(figure).not_to_have_text(before)
    expect(page.locator("#changed")).to_contain_text("figures changed")


def test_figures_open_how_they_came_about_by_keyboard(shown: Shown) -> None:
    page = shown.goes("/figures")
    page.locator("a.figure").first.focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="How it came about").wait_for()
    branch = page.locator(".tree details details > summary").first
    branch.focus()
    page.keyboard.press("Enter")
    expect(branch.locator("xpath=..")).to_have_attribute("open", "")


def test_what_if_answers_as_one_types(shown: Shown) -> None:
    page = shown.goes("/what-if?part=pot")
    assert page.locator("#outcome strong").count() == 0
    page.get_by_label("Life of the mould").fill("600")
    page.locator("#outcome strong").first.wait_for()
    page.get_by_role("link", name="Keep as settings").click()
    page.get_by_role("heading", name="Keep as settings").wait_for()
    expect(page.locator("main")).to_contain_text("becomes 600")


def test_reports_are_made_and_downloaded_as_one_waits(shown: Shown) -> None:
    page = shown.goes("/reports")
    form = page.locator("form", has=page.locator("#school-format"))
    form.get_by_label("Format").select_option(".html")
    form.get_by_role("button", name="Make it").click()
    link = page.get_by_role("link", name="Download school.html")
    link.wait_for()
    with page.expect_download() as waiting:
        link.click()
    assert waiting.value.suggested_filename == "school.html"


def test_set_up_refuses_and_keeps_what_was_typed(shown: Shown) -> None:
    page = shown.goes("/setup/equipment")
    page.get_by_text("Add one").click()
    page.get_by_label("Name").last.fill("press")
    page.get_by_label("Power (needed)").last.fill("many")
    page.get_by_role("button", name="Add").click()
    page.locator("[aria-invalid]").wait_for()
    expect(page.locator("[aria-invalid]")).to_have_value("many")
    page.locator("[aria-invalid]").fill("900")
    page.get_by_role("button", name="Add").click()
    page.get_by_text("Saved.").wait_for()
    assert 'power = "900 W"' in (shown.folder / "workshop.toml").read_text()


def test_pages_asked_nothing_of_another_host_and_said_nothing(shown: Shown) -> None:
    here = urlsplit(shown.address).netloc
    others = [url for url in shown.asked if urlsplit(url).netloc != here and not url.startswith(("data:", "blob:"))]
    assert others == []
    assert [line for line in shown.said if "status of 422" not in line] == []


def test_ten_questions_by_keyboard_alone_lead_to_an_open_batch(browser: Browser, tmp_path: Path) -> None:
    for shown in shown_of(browser, tmp_path / "my-workshop"):
        page = shown.page
        page.get_by_role("link", name="The first question").press("Enter")
        for number, question in enumerate(QUESTIONS, 1):
            page.get_by_text(f"Question {number} of {len(QUESTIONS)}").wait_for()
            assert violations(page) == [], question.name
            assert too_wide(page) == []
            if question.name == "where":
                page.get_by_label("Country").press("u")
                page.get_by_label("Country").select_option("GBR")
            if question.name == "part":
                page.get_by_label("Name").fill("pot")
            page.get_by_role("button", name="Make the folder" if number == len(QUESTIONS) else "Next").press("Enter")
        page.get_by_text("with one open batch").wait_for()
        expect(page.get_by_role("link", name="001")).to_have_count(1)
        assert sorted(path.name for path in shown.folder.iterdir() if path.is_file()) == [
            "batches.csv",
            "parts.csv",
            "workshop.toml",
        ]
        assert shown.said == []
