"""Recipes, tanks and the sums in a browser at phone width; a file of its own, as the browser's loop stays in its process."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from serving import CHROMIUM, REQUIRED, serving

from api.app import create_app
from catalogue.store.engine import Archive
from example_archive.bench_data import fill_bench


@pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")
def test_the_pages_in_a_browser(browser: Browser, archive: Archive) -> None:
    app = create_app(archive.folder)
    with app.state.archive.session() as session:
        fill_bench(session)
    with serving(app) as address:
        context = browser.new_context(viewport={"width": 390, "height": 850}, color_scheme="dark")
        page = context.new_page()
        filled = "?ratio=1:9&volume=600&time=9:30&at=20&bath=24&clear=x"
        for path in ("recipes", "recipes/1", "recipes/1/edit", "tanks", f"reckon{filled}"):
            page.goto(f"{address}/bench/{path}")
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            assert page.evaluate("document.documentElement.scrollWidth") <= 390, path
            found = Axe().run(page)
            assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        page.goto(f"{address}/bench/recipes/2/edit")
        page.fill("#s1-time", "10:00")
        page.locator("#step-1").get_by_role("button", name="Move down").click()
        page.wait_for_url("**/edit#step-2")
        assert page.input_value("#s2-time") == "10:00"
        context.close()
