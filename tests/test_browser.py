"""The main job in a real browser: sleeve a roll by keyboard, find a frame, print; and axe on every page."""

import time
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from serving import AXE_LOOKS_AT, CHROMIUM, REQUIRED, serving

from api.app import create_app
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll

pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A running service with one roll in it."""
    app = create_app(tmp_path_factory.mktemp("browser") / "archive")
    with app.state.archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(
            session,
            NewRoll(
                number="2031-001",
                frames="00-36A",
                stock="Tarn 100",
                captions={"5": "Heron on the mole"},
                subject="Mole",
            ),
        )
    with serving(app) as served:
        yield served


def test_a_roll_is_sleeved_by_keyboard_found_and_printed(page: Page, address: str, capsys: pytest.CaptureFixture[str]) -> None:
    page.goto(f"{address}/register")
    page.locator("#number:focus").wait_for()
    began = time.monotonic()
    keys = page.keyboard
    assert page.evaluate("document.activeElement.id") == "number"
    keys.press("Control+A")
    keys.type("2031-014")
    keys.press("Tab")
    keys.press("Tab")
    assert page.evaluate("document.activeElement.id") == "frames"
    keys.press("Control+A")
    keys.type("1-37")
    page.locator("#cut-plan", has_text="37 frames on 7 strips").wait_for()
    keys.press("Enter")
    page.wait_for_url("**/rolls/2031-014*")
    took = time.monotonic() - began
    with capsys.disabled():
        print(f"\n  sleeved by keyboard in {took:.1f} s")
    assert "Sleeved" in page.inner_text("main")

    for name in ("Print the label", "Print the contact sheet"):
        link = page.get_by_role("link", name=name).first
        with page.expect_download() as begun:  # Alt and a click save the file instead of opening it in the viewer
            link.click(modifiers=["Alt"])
        assert begun.value.path().read_bytes().startswith(b"%PDF")

    page.goto(address)
    page.locator("#q:focus").wait_for()  # focus comes with the first drawn frame, which may be after the load
    page.keyboard.type("14 23")
    page.keyboard.press("Enter")
    page.wait_for_url("**q=14**")
    hit = page.locator(".hits li").first
    assert "strip from the top" in hit.inner_text()
    hit.get_by_role("link").click()
    page.wait_for_url("**/pages/**")
    assert page.locator("svg .frame.sought").count() == 1
    assert "ring side" in page.locator(".sought-words").inner_text()


def test_own_cuts_are_shown_before_saving(page: Page, address: str) -> None:
    page.goto(f"{address}/register")
    page.fill("#frames", "1-6")
    page.fill("#cuts", "1-3 | 4-6")
    page.locator("#cut-plan", has_text="Your own cuts: 3, 3").wait_for()
    page.fill("#cuts", "1-3")
    page.locator("#cut-plan .problem").wait_for()


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing_and_no_page_is_wider_than_the_screen(browser: Browser, address: str, ground: str, width: int) -> None:
    context = browser.new_context(viewport={"width": width, "height": 850}, color_scheme=ground)  # type: ignore[arg-type]
    opened = context.new_page()
    for path in (
        "/", "/?q=heron", "/register", "/binders", "/binders/1", "/pages/1", "/pages/1?frame=2031-001%2F5",
        "/rolls/2031-001", "/print?roll=2031-001", "/archive", "/archive/pages", "/archive/formats",
        "/api/docs", "/nowhere",
    ):  # fmt: skip
        opened.goto(address + path)
        if (width, ground) in AXE_LOOKS_AT:
            found = Axe().run(opened)
            assert found.violations_count == 0, f"{path} ({ground}, {width}): {found.generate_report()}"
        assert opened.evaluate("document.documentElement.scrollWidth") <= width, path
    context.close()
