"""A mixed folder tied with one approval in a real browser, a crop that finds its negative, and axe on every page of scans."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import ImageOps
from playwright.sync_api import Browser, Page
from scan_scenes import Folder, copied, mixed_folder, web_copies
from serving import AXE_LOOKS_AT, CHROMIUM, REQUIRED, serving
from small_scans import tied_by_name

from api.app import create_app
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import Archive
from catalogue.views import FrameView

LABELS = [str(n) for n in range(1, 37)]
pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Archive, Folder]]:
    """A running service; a roll of 36 with small positives from long ago, and a mixed folder of copies not read yet."""
    app = create_app(tmp_path_factory.mktemp("scans") / "archive")
    archive: Archive = app.state.archive
    web_copies(archive.folder / "scans" / "web", LABELS)
    what = mixed_folder(archive.folder / "scans" / "2031-050", LABELS, seed=11)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(session, NewRoll.model_validate({"number": "2031-050", "frames": 36, "process": {"process": "C-41"}}))
        tied_by_name(session, "2031-050", "web")
    with serving(app) as address:
        yield address, archive, what


def test_a_folder_is_read_and_tied_with_one_approval_and_a_crop_finds_its_negative(
    page: Page, scene: tuple[str, Archive, Folder], tmp_path: Path
) -> None:
    address, archive, what = scene
    page.goto(f"{address}/rolls/2031-050/scans")
    page.get_by_role("button", name="Read this folder").click()
    page.wait_for_url("**/readings/*")
    page.get_by_role("button", name="Approve all of it").wait_for(timeout=60_000)
    assert "38 of 38 files" in page.inner_text("main")
    first = page.locator(".lines li").first
    assert "Doubt" in first.inner_text()
    mirrored = page.locator(".lines li", has_text=what.mirrored)
    assert "mirrored" in mirrored.inner_text()
    assert "cut short" in page.locator(".lines li", has_text=what.broken).inner_text()
    assert not any(s.path.startswith("2031-050/") for f in frames(archive) for s in f.scans)
    page.get_by_role("button", name="Approve all of it").click()
    page.wait_for_url("**/rolls/2031-050/scans")
    tied = {s.path.partition("/")[2]: f.label for f in frames(archive) for s in f.scans if s.path.startswith("2031-050/")}
    assert tied == what.frames
    assert "Shown as positives" in page.inner_text("main")

    whole = copied("23")
    crop = ImageOps.mirror(whole.crop((0, 0, int(whole.width * 0.78), int(whole.height * 0.78))))  # 61 % of the frame
    crop.save(tmp_path / "somewhere.jpg", quality=70)
    page.goto(f"{address}/from-picture")
    page.set_input_files("#picture", tmp_path / "somewhere.jpg")
    page.get_by_role("button", name="Look for its negative").click()
    hit = page.locator(".hits li").first
    hit.wait_for()
    assert "2031-050 / 23" in hit.inner_text()
    assert "frame 23" in page.locator("h2").first.inner_text()
    assert "fourth strip from the top, fifth frame from the ring side" in hit.inner_text()
    hit.get_by_role("link").click()
    page.wait_for_url("**/pages/1?frame=**")
    assert page.locator("svg .frame.sought image").count() == 1


def frames(archive: Archive) -> tuple[FrameView, ...]:
    """The roll's frames as they are now."""
    with archive.session(reading=True) as session:
        return get_roll(session, "2031-050").frames


def test_a_picture_is_dragged_to_another_frame_and_back_by_keyboard(page: Page, scene: tuple[str, Archive, Folder]) -> None:
    address, archive, _ = scene
    page.goto(f"{address}/rolls/2031-050/scans")
    before = {f.label: len(f.scans) for f in frames(archive)}
    with page.expect_navigation():
        page.locator("[data-label='7']").drag_to(page.locator("[data-label='8']"))
    after = {f.label: len(f.scans) for f in frames(archive)}
    assert (after["7"], after["8"]) == (before["7"] - 1, before["8"] + 1)
    page.goto(f"{address}/rolls/2031-050/scans/8")
    last = page.locator("section.scan").last
    last.get_by_label("It shows frame").select_option("7")
    last.get_by_role("button", name="Move it there").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert {f.label: len(f.scans) for f in frames(archive)} == before


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing_on_the_pages_of_scans(
    browser: Browser, scene: tuple[str, Archive, Folder], ground: str, width: int
) -> None:
    address = scene[0]
    context = browser.new_context(viewport={"width": width, "height": 850}, color_scheme=ground)  # type: ignore[arg-type]
    opened = context.new_page()
    for path in ("/rolls/2031-050/scans", "/rolls/2031-050/scans/5", "/readings/1", "/scans", "/from-picture"):
        opened.goto(address + path)
        if (width, ground) in AXE_LOOKS_AT:
            found = Axe().run(opened)
            assert found.violations_count == 0, f"{path} ({ground}, {width}): {found.generate_report()}"
        assert opened.evaluate("document.documentElement.scrollWidth") <= width, path
    context.close()
