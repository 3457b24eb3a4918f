"""The page of a frame in a real browser: a crop drawn and typed, a print recorded, at 390 px, with axe."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from builders import registered
from playwright.sync_api import Browser, Page
from serving import CHROMIUM, REQUIRED, serving
from small_scans import scanned

from api.app import create_app
from catalogue.darkroom.print_records import prints_of_frame
from catalogue.rolls.choices import choices_of_roll
from catalogue.rolls.file import add_binder
from catalogue.store.engine import Archive

NUMBER = "2031-001"
pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Archive]]:
    """A running service with one roll; its frame 1 is scanned."""
    app = create_app(tmp_path_factory.mktemp("records") / "archive")
    archive: Archive = app.state.archive
    with archive.session() as session:
        add_binder(session, "Binder 1")
        scanned(session, registered(session, 6, number=NUMBER), ["1"])
    with serving(app) as address:
        yield address, archive


def edges(page: Page) -> list[str]:
    return [page.input_value(f"#edge-{edge}") for edge in ("left", "top", "right", "bottom")]


def test_a_crop_is_drawn_and_typed_and_a_print_recorded(browser: Browser, scene: tuple[str, Archive]) -> None:
    address, archive = scene
    context = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme="dark")
    page = context.new_page()
    page.goto(f"{address}/rolls/{NUMBER}/scans/1")
    picture = page.locator("#crop-picture")
    picture.locator("img").evaluate("image => image.decode()")
    draw = page.get_by_role("button", name="Draw the crop on the picture")
    box = picture.bounding_box()
    assert box
    drag(page, box)
    assert edges(page) == [""] * 4  # not while the page is only being looked at or scrolled
    draw.focus()
    page.keyboard.press("Enter")
    assert draw.get_attribute("aria-pressed") == "true"
    box = picture.bounding_box()
    assert box
    drag(page, box)
    assert [float(v) for v in edges(page)] == pytest.approx([10, 20, 75, 90], abs=0.6)
    assert page.get_attribute(".left-out", "d") != ""
    drawn = edges(page)
    page.mouse.click(box["x"] + 30, box["y"] + 30)  # a press without a drag changes nothing
    assert edges(page) == drawn
    page.fill("#edge-right", "80")  # by keyboard the numbers do it all
    assert "H80V" in str(page.get_attribute(".left-out", "d"))
    page.get_by_label("Frame 1 is a select").check()
    page.get_by_role("button", name="Keep the choice").click()
    page.wait_for_url("**#choice")
    with archive.session(reading=True) as session:
        (choice,) = choices_of_roll(session, NUMBER).values()
    assert choice.selected
    assert choice.crop == pytest.approx((0.1, 0.2, 0.8, 0.9), abs=0.006)

    page.get_by_text("Record a print").click()
    page.fill("#print-base_time", "18.5")
    page.fill("#print-column", "412")
    page.select_option("#kind-1", "burn")
    page.fill("#where-1", "sky")
    check(page)
    page.get_by_role("button", name="Keep this print").click()
    page.wait_for_url("**#prints")
    with archive.session(reading=True) as session:
        (made,) = prints_of_frame(session, NUMBER, "1")
    assert (made.base_time_s, made.height_mm, made.marks[0].where) == (18.5, 412, "sky")
    for summary in page.locator("#prints summary").all():
        if summary.is_visible():
            summary.click()
    check(page)
    page.goto(f"{address}/pages/1")
    check(page)
    context.close()


def drag(page: Page, box: object) -> None:
    """From a tenth across and a fifth down to three quarters across and nine tenths down."""
    assert isinstance(box, dict)
    x, y, wide, high = (box[name] for name in ("x", "y", "width", "height"))
    page.mouse.move(x + 0.1 * wide, y + 0.2 * high)
    page.mouse.down()
    page.mouse.move(x + 0.5 * wide, y + 0.6 * high)
    page.mouse.move(x + 0.75 * wide, y + 0.9 * high)
    page.mouse.up()


def check(page: Page) -> None:
    """axe finds nothing, nothing scrolls sideways, and whatever is pressed or typed into is at least 24 px."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    sizes = page.evaluate(
        "[...document.querySelectorAll('#choice input, #choice button, #prints input, #prints select, #prints button,"
        " #prints summary, #prints a')].map(e => e.getBoundingClientRect()).filter(r => r.width)"
        ".map(r => Math.min(r.width, r.height))"
    )
    assert not sizes or min(sizes) >= 24
