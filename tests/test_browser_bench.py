"""On a phone: two rolls from waiting through a session, one bath at its limit, to their sleeves; the tank card prints."""

from collections.abc import Iterator
from io import BytesIO

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_scene import set_up
from playwright.sync_api import Browser, Page
from pypdf import PdfReader
from serving import CHROMIUM, REQUIRED, serving

from api.app import create_app
from catalogue.bench.sink.hang import finish_session
from catalogue.bench.sink.plan import NewSession, plan_session
from catalogue.rolls.file import add_binder

pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Four rolls that waited; two are done, and the bottles are good for one more."""
    app = create_app(tmp_path_factory.mktemp("browser") / "archive")
    with app.state.archive.session() as session:
        add_binder(session, "Binder 1")
        bench = set_up(session, rolls=4, capacity=3)
        rolls = [{"number": n, "reel": reel} for reel, n in enumerate(bench.rolls[:2], 1)]
        given = {"recipe_id": bench.recipe, "rolls": rolls, "bottles": {1: bench.developer, 3: bench.fixer}}
        finish_session(session, plan_session(session, NewSession.model_validate(given)))
    with serving(app) as served:
        yield served


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Page]:
    """A page as wide as a phone."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    opened = context.new_page()
    opened.goto(f"{address}/bench")
    yield opened
    context.close()


def well(page: Page) -> None:
    """Nothing is wider than the screen, and axe finds nothing."""
    assert page.evaluate("document.documentElement.scrollWidth") <= 390, page.url
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"


def test_two_rolls_go_from_waiting_to_their_sleeves(phone: Page, address: str) -> None:
    numbers = [r["number"] for r in phone.request.get(f"{address}/api/waiting").json() if r["state"] == "exposed"]
    assert len(numbers) == 2
    well(phone)
    phone.get_by_role("link", name="Plan a session with these").click()
    phone.get_by_text("Before any film goes in").first.wait_for()
    well(phone)
    phone.get_by_role("button", name="Keep this plan").click()
    phone.get_by_role("alert").wait_for()
    for reason in phone.get_by_label("Use it all the same, because").all():
        reason.fill("only tests of the shutter")
    phone.get_by_role("button", name="Keep this plan").click()
    phone.wait_for_url("**/bench/sessions/2")
    well(phone)

    card = phone.request.get(f"{address}/api/sessions/2/tank-card.pdf")
    words = " ".join(sheet.extract_text() for sheet in PdfReader(BytesIO(card.body())).pages)
    for needed in (*numbers, "3:15", "developer", "Gloves"):
        assert needed in words, needed

    phone.get_by_role("link", name="To the sink").click()
    phone.get_by_role("button", name="The tank is closed").click()
    for _ in range(8):  # four steps are begun and ended
        phone.wait_for_timeout(850)  # a second knock within 800 ms isn't meant
        phone.locator("#sink-go").click()
    phone.locator("#sink-finished").wait_for()
    phone.get_by_role("link", name="To the session").click()
    phone.get_by_role("button", name="The film hangs").click()
    phone.get_by_role("heading", name="At the rail").wait_for()
    for clip, number in enumerate(numbers, 1):
        phone.get_by_label(f"Clip of {number}").fill(str(clip))
    phone.get_by_role("button", name="Keep the clips").click()
    phone.get_by_text("hanger 1, clip 2").first.wait_for()
    well(phone)
    for number in numbers:
        told = phone.get_by_role("group", name=f"Roll {number}")
        told.get_by_label("Frames counted").fill("36")
        told.get_by_role("button").click()
        phone.get_by_role("link", name=f"Sleeve roll {number}").wait_for()
    phone.get_by_role("link", name=f"Sleeve roll {numbers[0]}").click()
    assert phone.locator("#number").input_value() == numbers[0]
    assert phone.locator("#frames").input_value() == "1-36"
    phone.get_by_role("button", name="Sleeve this roll").last.click()
    phone.wait_for_url(f"**/rolls/{numbers[0]}*")
    record = phone.inner_text("main")
    for needed in ("C-41", "Kit K developer", "Brown 1", "only tests of the shutter"):
        assert needed in record, needed
    assert [r["number"] for r in phone.request.get(f"{address}/api/waiting").json() if r["state"] == "processed"][-1] == numbers[
        1
    ]
