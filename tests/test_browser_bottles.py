"""A bottle on a phone: two taps write that rolls are poured back; nothing scrolls sideways, and axe finds nothing."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_scene import TODAY, Bench, set_up
from playwright.sync_api import Browser, Page
from serving import CHROMIUM, REQUIRED, serving

from api.app import create_app
from catalogue.bench.bottles.shelf import write_entry
from catalogue.bench.rules.baths.entries import ClearingMeasured

pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Bench]]:
    app = create_app(tmp_path_factory.mktemp("bottles") / "archive")
    with app.state.archive.session() as session:
        bench = set_up(session)
        write_entry(session, bench.fixer, ClearingMeasured(on=TODAY, seconds=40, fresh=True))
    with serving(app) as address:
        yield address, bench


@pytest.fixture
def phone(browser: Browser, served: tuple[str, Bench]) -> Iterator[Page]:
    """390 px wide, touched, in a dark room."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, color_scheme="dark", base_url=served[0])
    yield context.new_page()
    context.close()


def test_two_taps_on_a_phone_write_that_two_rolls_are_poured_back(phone: Page, served: tuple[str, Bench]) -> None:
    _, bench = served
    phone.goto(f"/bench/bottles/{bench.developer}")
    first = phone.get_by_role("button", name="+2 rolls")
    assert (box := first.bounding_box()) is not None and box["height"] >= 48
    first.tap()
    phone.wait_for_url("**/rolls?**")
    assert "Nothing speaks against it" in phone.inner_text("main")
    phone.get_by_role("button", name="They are poured back: +2 rolls").tap()
    phone.wait_for_url(f"**/bench/bottles/{bench.developer}")
    assert "14 of 16 rolls left" in phone.inner_text("main")
    assert f"+2 rolls: {', '.join(bench.rolls)}" in phone.inner_text("table")


def test_axe_finds_nothing_and_nothing_scrolls_sideways(phone: Page, served: tuple[str, Bench]) -> None:
    _, bench = served
    roll = bench.rolls[0]
    for path in ("/bench/bottles", f"/bench/bottles/{bench.developer}", f"/bench/bottles/{bench.fixer}", "/bench/supplies",
                 f"/bench/bottles/{bench.fixer}/rolls?roll={roll}", f"/bench/bottles/{bench.developer}/entries/1"):  # fmt: skip
        phone.goto(path)
        phone.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert phone.evaluate("document.documentElement.scrollWidth") <= 390, path
        found = Axe().run(phone)
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
