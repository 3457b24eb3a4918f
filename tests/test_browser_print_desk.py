"""The print desk in a real browser at phone width: put in, look, make, note as printed; axe finds nothing."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from builders import registered
from playwright.sync_api import Browser
from serving import CHROMIUM, REQUIRED, serving

from api.app import create_app
from catalogue.rolls.file import add_binder

pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A running service with one roll in it."""
    app = create_app(tmp_path_factory.mktemp("desk") / "archive")
    with app.state.archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 8, number="2031-001", subject="Mole")
    with serving(app) as served:
        yield served


def test_a_page_label_from_its_map_to_the_printer(browser: Browser, address: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme="dark", java_script_enabled=True)
    page = context.new_page()

    def fine() -> None:
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        found = Axe().run(page).response["violations"]
        assert [(v["id"], v["nodes"][0]["html"]) for v in found] == []

    page.goto(f"{address}/pages/1")
    page.get_by_role("button", name="Print later – Print the index label").click()
    page.wait_for_url("**/print?back=*")
    page.get_by_role("link", name="Back to where you were").click()
    page.wait_for_url("**/pages/1")
    page.get_by_role("button", name="Print later – Print the strip list").click()
    page.wait_for_url("**/print?back=*")
    page.get_by_role("button", name="Up – Strip list of Binder 1, page 1").click()
    page.wait_for_url("**/print#queue")
    assert [t.split("\n")[0] for t in page.locator(".queue li").all_inner_texts()] == [
        "Strip list of Binder 1, page 1", "Index label of Binder 1, page 1",
    ]  # fmt: skip
    fine()

    page.get_by_role("link", name="Index label of Binder 1, page 1").click()
    page.wait_for_url("**/print/look?**")
    picture = page.get_by_role("img", name="Sheet 1 of 1 as it will be printed")
    assert picture.evaluate("p => p.decode().then(() => p.naturalWidth)") == 900
    fine()

    page.goto(f"{address}/print")
    page.get_by_role("button", name="Make the PDF of all 2").click()
    page.locator(".said", has_text="1 PDF is ready").wait_for()
    fine()
    page.get_by_role("button", name="These came out of the printer").click()
    page.wait_for_url("**/print?noted=2")
    assert "Nothing waits" in page.inner_text("main")
    fine()
    context.close()
