"""Bench and Batches in a real browser: by thumb, by keyboard, without a network, on two devices, without a script.

Checked against, from outside:

- WCAG 2.0 to 2.2, A and AA, and best practices: axe-core in headless Chromium
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, BrowserContext, Page, expect

from impact.browser.guards import Sessions
from impact.cli.commands import main
from tests.folders import write_folder
from tests.office import chromium
from tests.pages import Clock, serving
from tests.test_browser_bench import DATED, GRAMS
from tests.test_html import DESKTOP, FLAGS, PATIENCE_MS, USUAL_PHONE, too_wide, violations

SMALL_PHONE = {"width": 320, "height": 640}
TOUCHED = 48.0  # pixels of CSS, of whatever is touched; our own choice, above the 24 of WCAG 2.2, 2.5.8
READ = 17.0  # pixels of CSS, of every text; our own choice


@dataclass
class House:
    """A served folder, and the browser that all devices of this module are contexts of."""

    address: str
    sessions: Sessions
    folder: Path
    clock: Clock
    browser: Browser
    said: list[str]
    asked: list[str]

    def device(self, **options: Any) -> Page:
        """Return a page of a new device that came in, at the bench."""
        context = self.browser.new_context(viewport=USUAL_PHONE, **options)
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        page.on("console", lambda seen: self.said.append(seen.text))
        page.on("pageerror", lambda seen: self.said.append(str(seen)))
        page.on("request", lambda seen: self.asked.append(seen.url))
        page.goto(f"{self.address}/enter?code={self.sessions.code}")
        page.wait_for_url("**/bench")
        return page

    def row(self, batch: str) -> str:
        """Return the row of a batch as it stands in the file."""
        text = (self.folder / "batches.csv").read_text(encoding="utf-8")
        return next((line for line in text.splitlines() if line.startswith(f"{batch},")), "")


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    folder = write_folder(tmp_path_factory.mktemp("bench") / "workshop", workshop=DATED, batches=GRAMS)
    clock = Clock()
    expect.set_options(timeout=PATIENCE_MS)
    browsing = chromium(args=list(FLAGS), timeout=PATIENCE_MS)
    with serving(folder, clock) as (address, sessions), browsing as browser:
        made = House(address, sessions, folder, clock, browser, [], [])
        yield made
    # whatever the tests of this process did: nobody else was asked, and the console is silent
    assert {url for url in made.asked if not url.startswith((address, "data:", "about:"))} == set()
    assert made.said == []


@pytest.fixture
def phone(house: House) -> Iterator[Page]:
    page = house.device()
    yield page
    page.context.close()


def opened(page: Page, name: str) -> None:
    """Open a batch from the bench."""
    page.get_by_label("Name of the batch").fill(name)
    page.get_by_role("button", name="Open a batch").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"Batch {name}")


def typed(page: Page, label: str, text: str) -> None:
    """Type into a field and leave it; wait until it is kept."""
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")
    kept(page)


def kept(page: Page) -> None:
    """Wait until nothing waits in this device."""
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")


def tap(page: Page, words: str, times: int = 1) -> None:
    for _ in range(times):
        page.locator("button.tap", has_text=words).click()
    kept(page)


def test_batch_is_logged_with_a_thumb_and_the_commands_agree(house: House, phone: Page) -> None:
    opened(phone, "T1")
    typed(phone, "Corrugated in g", "1000")
    typed(phone, "Newsprint in g", "300")
    phone.get_by_label("Binder", exact=True).select_option("pva-glue")
    kept(phone)
    typed(phone, "Binder mass in g", "200")
    typed(phone, "Water in L", "12000")
    expect(phone.locator("#f-water-doubt-1")).to_contain_text("did you mean mL, not L?")
    phone.get_by_role("button", name="Water: 12000 mL").click()
    expect(phone.locator("#f-water-doubt-1")).to_have_count(0)
    tap(phone, "good", 3)
    expect(phone.locator(".count").first).to_have_text("3")
    phone.get_by_label("Several at once").fill("27")
    phone.get_by_role("button", name="Add good ones").click()
    expect(phone.locator(".count").first).to_have_text("30")
    tap(phone, "rejects", 2)
    phone.get_by_role("button", name="None for pressing").click()
    expect(phone.get_by_text("None: a hand press")).to_be_visible()
    phone.get_by_role("button", name="Close this batch").click()
    expect(phone.get_by_text("Batch T1 is closed")).to_be_visible()
    assert house.row("T1") == "T1,2026-11-30,pot,1000,300,,pva-glue,200,12000 mL,,,30,2,0"
    document = json.loads(CliRunner().invoke(main, ["check", str(house.folder), "--json"]).stdout)
    assert document["problems"] == []
    totals = json.loads(CliRunner().invoke(main, ["totals", str(house.folder), "--json"]).stdout)
    phone.get_by_role("link", name="Batches", exact=True).click()
    cells = phone.locator("tr", has_text="November 2026").locator("td")
    expect(cells.nth(0)).to_have_text(str(totals["batches"]))
    expect(cells.nth(1)).to_have_text(f"{totals['paper']['collected_kg']['value']:.2f}")
    phone.get_by_role("button", name=re.compile("Take back.*T1 closed")).click()
    expect(phone.get_by_text("Taken back: T1 closed.")).to_be_visible()
    assert house.row("T1") == ""


def test_timer_runs_over_midnight_and_a_closed_page(house: House, phone: Page) -> None:
    opened(phone, "T2")
    phone.get_by_role("button", name="Start fan").click()
    expect(phone.locator("time[data-running]")).to_have_text("0 min")
    phone.goto("about:blank")
    house.clock.pass_(hours=29, minutes=30)
    phone.goto(f"{house.address}/bench")
    expect(phone.locator("time[data-running]")).to_have_text("29 h 30 min")
    phone.get_by_role("button", name="Stop fan").click()
    expect(phone.locator("time[data-running]")).to_have_count(0)
    phone.get_by_role("link", name="T2", exact=True).click()
    expect(phone.get_by_text("fan 29.5 h (from the time)")).to_be_visible()


def test_without_a_network_entries_wait_here_and_are_sent_once(house: House, phone: Page) -> None:
    opened(phone, "T3")
    errors = len(house.said)
    phone.context.set_offline(True)
    for number in (1, 2, 3):
        phone.locator("button.tap", has_text="good").click()
        expect(phone.locator("#waiting")).to_contain_text(f"{number} entr")
    phone.get_by_label("Corrugated in g", exact=True).fill("900")
    phone.get_by_label("Corrugated in g", exact=True).press("Tab")
    phone.get_by_label("Corrugated in g", exact=True).fill("950")
    phone.get_by_label("Corrugated in g", exact=True).press("Tab")
    expect(phone.locator("#waiting")).to_contain_text("5 entries")
    expect(phone.locator(".count").first).to_have_text("3")
    phone.context.set_offline(False)
    kept(phone)
    expect(phone.locator(".count").first).to_have_text("3")
    phone.reload()
    expect(phone.locator(".count").first).to_have_text("3")
    expect(phone.get_by_label("Corrugated in g", exact=True)).to_have_value("950")
    # the browser itself tells that there was no network
    assert all("ERR_INTERNET_DISCONNECTED" in one for one in house.said[errors:])
    del house.said[errors:]


def test_answer_that_gets_lost_makes_no_second_entry(house: House, phone: Page) -> None:
    opened(phone, "T4")
    lost: list[str] = []

    def lose(route: Any) -> None:
        if not lost:
            lost.append(route.request.url)
            route.fetch()  # the server has it, the phone never hears of it
            route.abort()
        else:
            route.continue_()

    errors = len(house.said)
    phone.route("**/count", lose)
    phone.locator("button.tap", has_text="good").click()
    expect(phone.locator("#waiting")).to_be_visible()
    phone.evaluate("dispatchEvent(new Event('online'))")
    kept(phone)
    del house.said[errors:]
    phone.reload()
    assert lost
    expect(phone.locator(".count").first).to_have_text("1")


def test_two_devices_count_and_write_at_one_batch(house: House, phone: Page) -> None:
    opened(phone, "T5")
    other = house.device()
    other.goto(phone.url)
    for _ in range(2):
        tap(phone, "good")
        tap(other, "good")
    expect(other.locator(".count").first).to_have_text("4")
    typed(phone, "Corrugated in g", "800")
    typed(other, "Newsprint in g", "200")
    expect(other.get_by_label("Corrugated in g", exact=True)).to_have_value("800")
    typed(phone, "Corrugated in g", "810")
    errors = len(house.said)
    other.get_by_label("Corrugated in g", exact=True).fill("820")
    other.get_by_label("Corrugated in g", exact=True).press("Tab")
    expect(other.get_by_role("heading", level=1)).to_have_text("Another device wrote here meanwhile")
    expect(other.get_by_text("Keep theirs: 810")).to_be_visible()
    other.get_by_role("button", name="Write yours: 820").click()
    expect(other.get_by_label("Corrugated in g", exact=True)).to_have_value("820")
    assert all("409" in one for one in house.said[errors:])  # the browser tells each answer that refuses
    del house.said[errors:]
    other.context.close()


def test_keyboard_alone_opens_types_and_takes_back(house: House, phone: Page) -> None:
    phone.keyboard.press("Tab")
    expect(phone.get_by_role("link", name="To the content")).to_be_focused()
    phone.keyboard.press("Enter")
    name = phone.get_by_label("Name of the batch")
    for _ in range(60):
        if name.evaluate("e => e === document.activeElement"):
            break
        phone.keyboard.press("Tab")
    phone.keyboard.type("T6")
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Batch T6")
    kept(phone)
    field = phone.get_by_label("Corrugated in g", exact=True)
    field.focus()
    phone.keyboard.type("700")
    phone.keyboard.press("Enter")
    kept(phone)
    expect(field).to_be_focused()
    outline = field.evaluate("e => getComputedStyle(e).outlineStyle + getComputedStyle(e).outlineWidth")
    assert outline == "solid3px"
    phone.get_by_role("button", name="Take back: corrugated: 700").focus()
    phone.keyboard.press("Space")
    kept(phone)
    expect(field).to_have_value("")


def test_without_a_script_forms_post_and_come_back(house: House) -> None:
    page = house.device(java_script_enabled=False)
    page.get_by_label("Name of the batch").fill("T7")
    page.get_by_role("button", name="Open a batch").click()
    page.get_by_label("Corrugated in g", exact=True).fill("640")
    page.get_by_role("button", name="Save paper").click()
    expect(page.get_by_label("Corrugated in g", exact=True)).to_have_value("640")
    page.locator("button.tap", has_text="good").click()
    expect(page.locator(".count").first).to_have_text("1")
    page.context.close()


PLACES = ("/bench", "{batch}", "/batches", "/batches/row?batch=001", "/nowhere")


@pytest.fixture(scope="module")
def shown(house: House) -> Iterator[Page]:
    page = house.device()
    opened(page, "T8")
    page.get_by_role("button", name="Start fan").click()
    kept(page)
    typed(page, "Water in L", "12000")
    typed(page, "Corrugated in g", "1000")
    yield page
    page.context.close()


@pytest.fixture(scope="module")
def batch(shown: Page) -> str:
    return re.sub(r"https?://[^/]+|#.*", "", shown.url)


@pytest.mark.parametrize("place", PLACES)
def test_pages_break_no_rule_for_access(house: House, shown: Page, batch: str, place: str) -> None:
    errors = len(house.said)
    shown.goto(house.address + place.format(batch=batch))
    for size in (USUAL_PHONE, DESKTOP):
        shown.set_viewport_size(size)
        assert violations(shown) == []
    shown.emulate_media(color_scheme="dark")
    assert violations(shown, {"runOnly": ["color-contrast"], "resultTypes": ["violations"]}) == []
    shown.emulate_media(color_scheme="light")
    shown.set_viewport_size(USUAL_PHONE)
    if place == "/nowhere":
        assert all("404" in one for one in house.said[errors:])
        del house.said[errors:]


@pytest.mark.parametrize("place", PLACES[:4])
def test_pages_fit_a_small_phone_and_large_letters(house: House, shown: Page, batch: str, place: str) -> None:
    shown.goto(house.address + place.format(batch=batch))
    shown.set_viewport_size(SMALL_PHONE)
    for zoom in ("100%", "200%"):
        shown.evaluate(f"document.documentElement.style.fontSize = '{17 if zoom == '100%' else 34}px'")
        assert too_wide(shown) == []
    shown.evaluate("document.documentElement.style.fontSize = ''")
    shown.set_viewport_size(USUAL_PHONE)


@pytest.mark.parametrize("place", PLACES[:4])
def test_pages_can_be_touched_and_read(house: House, shown: Page, batch: str, place: str) -> None:
    shown.goto(house.address + place.format(batch=batch))
    small = shown.evaluate(
        """least => [...document.querySelectorAll("button, a, select, summary, input:not([type=hidden])")]
             .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > 0 && !e.closest("p:not(.actions)"))
             .map(e => e.closest("label.choice") || e)
             .filter(e => e.getBoundingClientRect().height < least - 0.5 || e.getBoundingClientRect().width < least - 0.5)
             .map(e => e.outerHTML.slice(0, 160))""",
        TOUCHED,
    )
    assert small == []
    fine = shown.evaluate(
        """least => [...document.querySelectorAll("body *")].filter(e => e.checkVisibility() && [...e.childNodes].some(
             n => n.nodeType === 3 && n.data.trim()) && parseFloat(getComputedStyle(e).fontSize) < least - 0.05)
             .map(e => e.outerHTML.slice(0, 160))""",
        READ,
    )
    assert fine == []


def test_stranger_is_asked_for_the_code(house: House) -> None:
    context: BrowserContext = house.browser.new_context(viewport=USUAL_PHONE)
    page = context.new_page()
    page.goto(f"{house.address}/batches")
    assert violations(page) == []
    page.get_by_label("Code").fill(house.sessions.shown_code.lower())
    page.get_by_role("button", name="Come in").click()
    page.wait_for_url("**/bench")
    context.close()
