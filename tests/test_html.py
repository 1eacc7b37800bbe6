"""The HTML of the reports in a real browser: it stands alone, fits a phone, can be used without a mouse, and prints.

Checked against, from outside:

- WCAG 2.0 to 2.2, A and AA, and best practices: axe-core in headless Chromium
"""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from impact.account.results import Results
from impact.api import load
from impact.base.places import templates_folder
from impact.report.drawing import INK, PAPER, STAGE_COLOURS
from impact.report.kinds import KINDS
from impact.report.request import Request
from impact.report.screen import CHARTS
from tests.folders import BATCHES, PARTS, TOML, swap, write_folder
from tests.office import chromium
from tests.office import found as program_found
from tests.reports import html_of, web_page
from tests.sheets import texts

CASES = {
    **{reader: Request(reader) for reader in KINDS},
    "spanish": Request("school", "es"),
    "german": Request("school", "de"),
    "three-batches": Request(),
    "hostile": Request(),
}
"""The demo workshop for each reader, then workshops that are hard to lay out."""
NASTY = "<script>alert(1)</script><img src=x onerror=alert(2)> & {{ 7*7 }} \"'"
LONG = "<b>tray</b>" + "unbreakable" * 2

PHONE = {"width": 360, "height": 740}
USUAL_PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1400, "height": 900}
SIZE = """e => parseFloat(getComputedStyle(e).fontSize) * (e.ownerSVGElement
    ? e.ownerSVGElement.getBoundingClientRect().width / e.ownerSVGElement.viewBox.baseVal.width : 1)"""
"""How large text is on the screen, in pixels of CSS; that of a chart grows and shrinks with the chart."""
SMALLEST_TEXT = 12.0  # in pixels of CSS; our own choice, WCAG asks for no size
PATIENCE_MS = 1_800_000.0  # what the browser may take before a test gives it up: a busy machine does not take as long
SMALLEST_IN_CHART = 11.0  # the same in a chart on a usual phone; our own choice
LARGEST_FILE = 1_500_000  # in bytes; our own choice
# No screen, no network of its own, and no sandbox, which root may not have.
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations"],
}
READABLE = {"runOnly": ["color-contrast", "target-size"], "resultTypes": ["violations"]}
# Dark differs in colours alone.
FLAT = ".scroll { background: none !important; }"
"""Without the shadows at the edges, on which axe tells no contrast."""
# On a desktop only what hangs on the place of things can differ.
PLACES = {"runOnly": ["target-size", "scrollable-region-focusable", "region"], "resultTypes": ["violations"]}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium(args=list(FLAGS), timeout=PATIENCE_MS) as started:
        yield started


class Shown(NamedTuple):
    """A report in the browser, with all that it asked for and all that the console had to say."""

    file: Path
    page: Page
    asked: list[str]
    said: list[str]


def page_of(case: str, folder: Path) -> str:
    request = CASES[case]
    if case in (*KINDS, "spanish", "german"):
        return web_page("demo", request.reader, request.language)
    return html_of(results_of(case, folder), request)


def results_of(case: str, folder: Path) -> Results:
    if case == "three-batches":
        again = BATCHES.splitlines()[1].replace("001,2026-01-05", "003,2026-01-19", 1)
        return load(write_folder(folder, batches=f"{BATCHES}{again}\n")).assess(draws=100)
    quoted = NASTY.replace("\\", "\\\\").replace('"', '\\"')
    batches = swap(BATCHES, '"wet, cold day"', '"' + NASTY.replace('"', '""') + '"')
    write_folder(
        folder,
        workshop=swap(TOML, "Paper Bench", quoted),
        parts=swap(PARTS, "tray,pot", f"{LONG},pot"),
        batches=swap(batches, ",tray,", f",{LONG},").replace("001,", "<i>001</i>,", 1),
    )
    return load(folder).assess(draws=100)


@pytest.fixture(scope="module", params=CASES)
def shown(
    request: pytest.FixtureRequest, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Shown]:
    folder = tmp_path_factory.mktemp(request.param)
    file = folder / "report.html"
    file.write_text(page_of(request.param, folder / "workshop"), encoding="utf-8")
    page = browser.new_page(viewport=PHONE)
    page.set_default_timeout(PATIENCE_MS)
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda seen: asked.append(seen.url))
    page.on("console", lambda seen: said.append(seen.text))
    page.on("pageerror", lambda seen: said.append(str(seen)))
    page.on("dialog", lambda seen: (said.append(seen.message), seen.dismiss()))
    page.goto(file.as_uri())
    page.evaluate("document.fonts.ready")
    yield Shown(file, page, asked, said)
    page.close()


@pytest.fixture(scope="module")
def plain(shown: Shown) -> Shown:
    """Return one of the three kinds; the other cases differ in words alone."""
    if shown.file.parent.name.rstrip("0123456789") not in KINDS:
        pytest.skip("looks like its kind")
    return shown


@pytest.fixture
def phone(shown: Shown) -> Page:
    shown.page.set_viewport_size(PHONE)
    return shown.page


@pytest.fixture
def desktop(shown: Shown) -> Iterator[Page]:
    shown.page.set_viewport_size(DESKTOP)
    yield shown.page
    shown.page.set_viewport_size(PHONE)


def too_wide(page: Page) -> list[str]:
    """Return what makes the page scroll sideways, apart from what scrolls by itself."""
    found: list[str] = page.evaluate(
        """() => document.documentElement.scrollWidth <= innerWidth ? [] : [...document.querySelectorAll("body *")]
             .filter(e => !e.closest(".scroll") && e.getBoundingClientRect().right > innerWidth + 0.5)
             .map(e => e.outerHTML.slice(0, 200))"""
    )
    return found


def violations(page: Page, rules: dict[str, Any] = RULES) -> list[tuple[str, list[str]]]:
    """Return the rules of axe-core that the page breaks, each with the elements that break it."""
    page.wait_for_load_state()
    found: list[dict[str, Any]] = Axe().run(page, options=rules).response["violations"]
    return [(rule["id"], [node["html"][:200] for node in rule["nodes"]]) for rule in found]


def test_kinds_are_all_that_have_a_template() -> None:
    assert {path.stem for path in templates_folder().glob("*.html")} - {"base", "own", "programme"} == set(KINDS)


def test_page_asks_for_nothing_but_itself_and_says_nothing(shown: Shown) -> None:
    assert [url for url in shown.asked if not url.startswith("data:")] == [shown.file.as_uri()]
    assert shown.said == []


def test_page_shows_its_own_typeface_whatever_fonts_the_machine_has(phone: Page) -> None:
    faces = phone.evaluate("[...document.fonts].map(face => [face.family, face.weight, face.status])")
    assert {(family.strip("'\""), weight) for family, weight, status in faces if status == "loaded"} >= {
        ("Source Sans Pro", "400"),
        ("Source Sans Pro", "600"),
    }
    assert "error" not in {status for _, _, status in faces}


def test_page_is_small_enough_to_send_by_mail(shown: Shown) -> None:
    assert shown.file.stat().st_size < LARGEST_FILE


def test_page_markup_in_a_name_stays_text(shown: Shown) -> None:
    assert shown.page.locator("script, b, i, img[onerror]").count() == 0


@pytest.mark.parametrize("zoom", ["100%", "200%"])
def test_page_on_a_phone_does_not_scroll_sideways(phone: Page, zoom: str) -> None:
    phone.evaluate("size => { document.documentElement.style.fontSize = size }", zoom)
    try:
        assert too_wide(phone) == []
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    finally:
        phone.evaluate("document.documentElement.style.fontSize = ''")


def test_page_on_a_phone_with_text_twice_as_large_grows_every_text(phone: Page) -> None:
    # WCAG 2.2, 1.4.4: a size in points or pixels would stay as it is when the reader asks for larger text.
    sizes = """() => [...document.querySelectorAll("body *")].filter(e => e.checkVisibility() && [...e.childNodes].some(
        n => n.nodeType === 3 && n.data.trim())).map(SIZE)""".replace("SIZE", SIZE)
    before = phone.evaluate(sizes)
    phone.evaluate("document.documentElement.style.fontSize = '200%'")
    try:
        assert phone.evaluate(sizes) == pytest.approx([2 * size for size in before])
    finally:
        phone.evaluate("document.documentElement.style.fontSize = ''")


def test_page_on_a_phone_has_no_small_text(phone: Page) -> None:
    small = phone.evaluate(
        """least => [...document.querySelectorAll("body *")].filter(e => e.checkVisibility() && [...e.childNodes].some(
               n => n.nodeType === 3 && n.data.trim()) && (SIZE)(e) < least)
             .map(e => e.outerHTML.slice(0, 200))""".replace("SIZE", SIZE),
        SMALLEST_TEXT,
    )
    assert small == []


def test_page_on_a_phone_shows_charts_that_fit_or_are_wide_enough_to_read(phone: Page) -> None:
    widths = phone.evaluate(
        """() => [...document.querySelectorAll("figure svg")].filter(e => e.checkVisibility())
            .map(e => [e.matches(".for-phone"), e.getBoundingClientRect().width])"""
    )
    assert all(width == 328 if drawn_again else width >= 640 for drawn_again, width in widths)


def test_page_shows_one_form_of_each_chart_and_says_it_once(plain: Shown) -> None:
    page, shown = plain.page, {}
    for name, size in (("paper", DESKTOP), ("phone", PHONE)):
        page.set_viewport_size(size)
        shown[name] = page.evaluate(
            """() => [...document.querySelectorAll("div[role=img]")].map(e => [e.ariaLabel.length > 20,
                ...[...e.children].map(c => [c.getAttribute("class"), c.ariaHidden, c.checkVisibility()])])"""
        )
    for name, other in (("paper", "phone"), ("phone", "paper")):
        pairs = [sorted(pair[1:], key=lambda one: one[0] != f"for-{name}") for pair in shown[name]]
        assert pairs
        assert all(pair == [[f"for-{name}", "true", True], [f"for-{other}", "true", False]] for pair in pairs)
        assert all(pair[0] for pair in shown[name])


def test_page_on_a_usual_phone_letters_of_its_charts_can_be_read(plain: Shown) -> None:
    plain.page.set_viewport_size(USUAL_PHONE)
    found = plain.page.evaluate(
        """() => [...document.querySelectorAll(".for-phone")].map(chart => [chart.getBoundingClientRect().right - innerWidth,
            ...[...chart.querySelectorAll("text")].map(SIZE)])""".replace("SIZE", SIZE)
    )
    plain.page.set_viewport_size(PHONE)
    assert found
    assert max(over for over, *_ in found) <= 0
    assert min(min(sizes) for _, *sizes in found) >= SMALLEST_IN_CHART


def test_page_on_a_usual_phone_shows_every_card_without_scrolling(plain: Shown) -> None:
    """The verdict of each part, and both footprints, are on the screen as the page opens."""
    page = plain.page
    page.set_viewport_size(USUAL_PHONE)
    cells = page.evaluate(
        """() => [...document.querySelectorAll(".cards tbody > tr > *")].map(e => [e.dataset.label ?? "", e.innerText,
            getComputedStyle(e, "::before").content, e.getBoundingClientRect().left >= 0,
            Math.max(e.getBoundingClientRect().right, e.scrollWidth + e.getBoundingClientRect().left) <= innerWidth])"""
    )
    over = page.evaluate(
        "[...document.querySelectorAll('.cards')].map(e => e.parentElement).filter(e => e.scrollWidth > e.clientWidth).length"
    )
    page.set_viewport_size(PHONE)
    assert cells
    assert over == 0
    assert [words for _, words, _, left, right in cells if not (left and right)] == []
    assert [said for label, _, said, _, _ in cells if label and not said.startswith(f'"{label}"')] == []
    if plain.page.locator("#comparison").count():
        assert {"Molded", "Plastic", "Chance lower", "Footprint, in this estimate"} <= {label for label, *_ in cells}


def test_page_on_a_phone_tables_shown_as_cards_are_still_tables_to_what_reads_aloud(plain: Shown) -> None:
    table = plain.page.locator(".cards").first
    told, rows = table.aria_snapshot(), table.locator("tbody tr").count()
    roles = Counter(re.findall(r"^ *- '?(\w+)", told, re.MULTILINE))  # quoted where a name holds a colon
    assert (roles["table"], roles["row"]) == (1, rows + 1)
    assert roles["columnheader"] == table.locator("thead th").count()
    assert roles["rowheader"] == table.locator("tbody th").count()


def test_page_where_something_scrolls_has_a_shadow_at_the_edge(plain: Shown) -> None:
    drawn = plain.page.evaluate(
        """() => [...document.querySelectorAll(".scroll")].map(e => getComputedStyle(e).backgroundAttachment)"""
    )
    assert drawn
    assert set(drawn) == {"local, local, scroll, scroll"}


@pytest.mark.parametrize(("scheme", "size"), [("light", DESKTOP), ("dark", USUAL_PHONE)], ids=["light", "dark"])
def test_page_in_the_light_and_in_the_dark_every_word_stands_out(plain: Shown, scheme: Any, size: Any) -> None:
    page = plain.page
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size(size)
    page.evaluate(
        "rule => { const e = document.createElement('style'); e.id = 'flat'; e.textContent = rule; document.head.append(e) }",
        FLAT,
    )
    try:
        assert violations(page, READABLE) == []
        assert too_wide(page) == []
    finally:
        page.evaluate("document.getElementById('flat').remove()")
        page.emulate_media(color_scheme="null")
        page.set_viewport_size(PHONE)


def test_page_on_a_phone_breaks_no_rule_of_accessibility(phone: Page) -> None:
    assert violations(phone) == []


def test_page_on_a_desktop_breaks_no_rule_of_places_and_sizes(desktop: Page) -> None:
    assert violations(desktop, PLACES) == []


def test_page_without_language_alternative_or_name_is_caught_by_the_checker(browser: Browser) -> None:
    page = browser.new_page()
    page.set_default_timeout(PATIENCE_MS)
    try:
        page.set_content("<title>x</title><main><h1>x</h1><img src='data:,'><a href='#y'></a></main>")
        assert {rule for rule, _ in violations(page)} >= {"html-has-lang", "image-alt", "link-name"}
    finally:
        page.close()


def test_page_table_is_a_region_named_like_the_table_with_scoped_headers(phone: Page) -> None:
    tables = phone.evaluate(
        """() => [...document.querySelectorAll("table")].map(t => [(t.caption ?? document.getElementById(t.getAttribute("aria-labelledby")))?.innerText, t.parentElement.className,
             t.parentElement.tabIndex, t.parentElement.getAttribute("role"),
             document.getElementById(t.parentElement.getAttribute("aria-labelledby"))?.innerText,
             t.querySelectorAll("th:not([scope])").length])"""
    )
    assert tables
    names = [name for name, *_ in tables]
    assert all(names)
    assert len(set(names)) == len(names)
    assert tables == [[name, "scroll", 0, "region", name, 0] for name in names]


def test_page_whatever_scrolls_takes_the_keyboard(phone: Page) -> None:
    """Whatever is wider than its place on a phone can be focused, and arrow keys move it."""
    wide = phone.locator(".scroll").evaluate_all("all => all.filter(e => e.scrollWidth > e.clientWidth).length")
    hidden = phone.evaluate(
        """() => [...document.querySelectorAll("main *")].filter(e => e.scrollWidth > e.clientWidth + 1
             && getComputedStyle(e).overflowX !== "visible" && e.tabIndex !== 0).length"""
    )
    assert hidden == 0
    if wide:
        index = phone.locator(".scroll").evaluate_all("all => all.findIndex(e => e.scrollWidth > e.clientWidth)")
        first = phone.locator(".scroll").nth(index)
        first.focus()
        phone.keyboard.press("ArrowRight")
        phone.wait_for_function("element => element.scrollLeft > 0", arg=first.element_handle())


def test_page_tab_key_goes_from_the_skip_link_through_all_links_and_regions_in_order(phone: Page) -> None:
    expected = phone.evaluate("[...document.querySelectorAll('a, .scroll')].map(e => e.outerHTML.slice(0, 300))")
    phone.evaluate("document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex')")
    reached = []
    for _ in expected:
        phone.keyboard.press("Tab")
        reached.append(phone.evaluate("document.activeElement.outerHTML.slice(0, 300)"))
        outline = phone.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert outline == "3px", reached[-1]
    assert reached == expected
    assert "skip" in reached[0]


def test_page_skip_link_is_seen_when_focused_and_leads_to_the_report(phone: Page) -> None:
    link = phone.locator("a.skip")
    phone.evaluate("document.activeElement.blur()")
    assert link.bounding_box()["x"] < 0
    link.focus()
    assert link.bounding_box()["x"] >= 0
    phone.keyboard.press("Enter")
    assert phone.evaluate("document.activeElement.id") == "main"


def test_page_has_one_title_and_headings_that_skip_no_level(phone: Page) -> None:
    levels = phone.evaluate("[...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map(e => +e.tagName[1])")
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_page_contents_lead_to_sections_that_exist(phone: Page) -> None:
    links = phone.evaluate("[...document.querySelectorAll('a[href^=\"#\"]')].map(e => e.getAttribute('href').slice(1))")
    assert [link for link in links if phone.locator(f"[id='{link}']").count() != 1] == []


LOOKS = """() => { const e = getComputedStyle(document.documentElement);
    const has = (look, colour) => [...document.querySelectorAll(`main svg [${look}="${colour}"]`)]
        .map(one => getComputedStyle(one)[look]);
    return [e.backgroundColor, e.color, e.colorScheme, [...new Set(has("fill", "INK"))], [...new Set(has("stroke", "INK"))]] }"""
LOOKS = LOOKS.replace("INK", INK)


def rgb(colour: str) -> str:
    """Return a colour as a browser prints it."""
    return f"rgb({', '.join(str(int(colour[place : place + 2], 16)) for place in (1, 3, 5))})"


def test_page_is_dark_where_the_reader_prefers_dark_but_on_paper(desktop: Page) -> None:
    seen = {}
    for scheme, media in (("light", "screen"), ("dark", "screen"), ("dark", "print")):
        desktop.emulate_media(color_scheme=scheme, media=media)  # type: ignore[arg-type]
        seen[scheme, media] = desktop.evaluate(LOOKS)
    desktop.emulate_media(color_scheme="null", media="null")
    for theme, colours in (("light", {PAPER: PAPER, INK: INK}), ("dark", CHARTS)):
        page, ink = rgb(colours[PAPER]), rgb(colours[INK])
        assert seen[theme, "screen"] == [page, ink, "light dark", [ink], [ink]]
    _, ink, _, fills, strokes = seen["dark", "print"]
    assert (ink, fills, strokes) == (rgb(INK), [rgb(INK)], [rgb(INK)])


def test_page_in_the_dark_no_chart_keeps_a_tone_of_the_light(plain: Shown) -> None:
    """Marks are drawn by reference, which computed styles do not show: the pixels do."""
    plain.page.emulate_media(color_scheme="dark")
    try:
        for chart in plain.page.locator(".for-phone").all():
            picture = Image.open(BytesIO(chart.screenshot())).convert("RGB")
            found = picture.getcolors(picture.width * picture.height)
            held = Counter({f"#{red:02x}{green:02x}{blue:02x}": count for count, (red, green, blue) in found})
            assert held[CHARTS[PAPER]] > 0.5 * picture.width * picture.height
            assert {tone: held[tone] for tone in {PAPER, *STAGE_COLOURS} if held[tone] > 5} == {}
    finally:
        plain.page.emulate_media(color_scheme="null")


def test_page_printed_from_a_browser_is_laid_out_for_paper(plain: Shown, desktop: Page) -> None:
    printed = PdfReader(BytesIO(pdf := desktop.pdf(prefer_css_page_size=True)))
    paper = re.search(r"@page \{ size: (\w+)", desktop.content())
    assert paper
    wide, high = {"letter": (612, 792), "A4": (595, 842)}[paper[1]]
    for sheet in printed.pages:
        assert (round(sheet.mediabox.width), round(sheet.mediabox.height)) == pytest.approx((wide, high), abs=1)
    words = " ".join("\n".join(texts(pdf)).split())
    assert desktop.locator("h1").inner_text() in words
    assert desktop.locator("a.skip").text_content() not in words
    last = desktop.locator("main > section").last.evaluate("e => e.innerText.trim().split(/\\s+/).slice(-3).join(' ')")
    assert last.split()[-1] in texts(pdf)[-1]


def test_page_for_paper_lets_nothing_scroll_or_run_over_the_edge(desktop: Page) -> None:
    desktop.emulate_media(media="print")
    of_funder = desktop.evaluate("document.body.classList.contains('funder')")
    wide = 695 if of_funder else 658  # the 184 mm, and 174 mm, between the margins of A4, in pixels
    desktop.set_viewport_size({"width": wide, "height": 1000})
    try:
        assert desktop.evaluate(
            "[...document.querySelectorAll('.scroll')].every(e => getComputedStyle(e).overflowX === 'visible')"
        )
        assert desktop.evaluate("document.documentElement.scrollWidth <= innerWidth")
    finally:
        desktop.emulate_media(media="null")


def test_program_without_a_browser_fails_in_continuous_integration_and_is_skipped_elsewhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="chromium is not installed"):
        program_found("chromium", "nothing here can show a page")
    monkeypatch.delenv("CI")
    with pytest.raises(pytest.skip.Exception, match="chromium is not installed"):
        program_found("chromium", "nothing here can show a page")
