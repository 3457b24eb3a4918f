"""Contact sheets with one exposure or each picture by itself, from the archive through the service and the command line."""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from shutil import copytree
from urllib.parse import unquote

import numpy as np
import pypdf
import pytest
from builders import painted
from fastapi.testclient import TestClient
from film_model import negative_of
from PIL import Image
from scan_scenes import as_image, frame_picture
from typer.testing import CliRunner

from api.app import create_app
from api.cli.main import app as commands
from catalogue.errors import InvalidInput
from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll
from catalogue.scans.look.proof_pictures import proof_pictures
from catalogue.scans.look.showing_positive import positive_of_roll, set_positive
from catalogue.scans.match.linking import link_scan
from catalogue.store.engine import Archive, open_archive
from catalogue.views import PageView

NUMBER, OTHER = "2031-001", "2031-002"
STOPS = {"1": 0.0, "2": -2.0, "3": 0.0}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A colour roll of three frames scanned as negatives, the second with two stops less light, and a roll without scans."""
    scene = np.asarray(as_image(frame_picture("3")).resize((160, 106)))
    opened = open_archive(tmp_path_factory.mktemp("proof") / "archive")
    (opened.folder / "scans").mkdir()
    with opened.session() as session:
        add_binder(session, "Binder 1")
        register_roll(session, NewRoll(number=NUMBER, frames=3, layout="135-6x6"))
        record_process(session, NUMBER, ProcessInput(process="C-41"))
        for label, stops in STOPS.items():
            scan = negative_of(scene, stops=stops, rebate=14, dyes=True)
            Image.fromarray(scan.astype(np.uint8)).save(opened.folder / "scans" / f"{label}.png")
            link_scan(session, NUMBER, label, f"{label}.png")
        register_roll(session, NewRoll(number=OTHER, frames=2, layout="135-6x6"))
    opened.close()
    return opened.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    copytree(made, tmp_path / "archive")
    opened = open_archive(tmp_path / "archive")
    yield opened
    opened.close()


def lightness(page: PageView) -> list[float]:
    found = []
    for frame in page.plan.frames:
        with Image.open(painted(frame.picture)) as picture:
            found.append(float(np.asarray(picture.convert("L"), dtype=float)[14:-14, 14:-14].mean()))
    return found


@pytest.mark.parametrize("kept", ["each", "common"])
def test_pictures_are_balanced_as_asked_whatever_is_set(archive: Archive, kept: str) -> None:
    with archive.session() as session:
        row = set_positive(session, NUMBER, "colour negative", exposure=kept)
        page, numbers = get_page(session, 1), row.inversion
        asked = {balance: proof_pictures(session, [page], balance) for balance in ("each", "common", "as set")}
        each, common = lightness(asked["each"].pages[0]), lightness(asked["common"].pages[0])
        # Two stops less light stay darker under one exposure and are lifted when balanced alone.
        assert common[1] < common[0] - 25 and each[1] > common[1] + 15
        assert common[0] == pytest.approx(common[2], abs=3)
        assert {name: proof.balance for name, proof in asked.items()} == {"each": "each", "common": "common", "as set": kept}
        assert asked["as set"].pages == asked[kept].pages
        assert not any(proof.words for proof in asked.values())
        kept_row = positive_of_roll(session, NUMBER)
        assert kept_row is not None and (kept_row.exposure, kept_row.inversion) == (kept, numbers)
        with pytest.raises(InvalidInput, match="as set"):
            proof_pictures(session, [page], "some")
        (large,) = proof_pictures(session, [page], "common", 1.5).pages
        # 36 mm are 54 at 150 %, above the 45 mm from which the larger preview is drawn.
        pairs = zip(large.plan.frames, asked["common"].pages[0].plan.frames, strict=True)
        assert all(a.picture and a.picture != b.picture for a, b in pairs)
        assert lightness(large) == pytest.approx(common, abs=2)


def test_pictures_shown_as_scanned_are_said_to_be(archive: Archive) -> None:
    with archive.session() as session:
        proof = proof_pictures(session, [get_page(session, 1)], "common")
    assert proof.balance == "as set"
    assert "Roll 2031-001 has pictures shown as scanned, balanced neither way" in proof.words


def test_the_service_takes_every_wish(archive: Archive) -> None:
    with archive.session() as session:
        set_positive(session, NUMBER, "colour negative", exposure="each")
    app = create_app(archive.folder)
    with TestClient(app) as client:
        for start in (f"/api/rolls/{NUMBER}/contact-sheet.pdf", "/api/pages/1/contact-sheet.pdf"):
            answer = client.get(start, params={"balance": "common", "side": "emulsion", "boxes": True, "percent": 150})
            assert (answer.status_code, answer.headers["x-scale"]) == (200, "1.5")
            text = pypdf.PdfReader(BytesIO(answer.content)).pages[0].extract_text()
            for words in ("one exposure for all pictures", "seen from behind, emulsion side up", "enlarged to 150 %"):
                assert words in text
        both = client.get("/api/contact-sheet.pdf", params={"roll": [NUMBER, OTHER], "marks": True})
        pages = pypdf.PdfReader(BytesIO(both.content)).pages
        assert [NUMBER in pages[0].extract_text(), OTHER in pages[1].extract_text()] == [True, True]
        assert "each picture balanced by itself" in pages[0].extract_text()
        assert "No frame on it is marked" in unquote(both.headers["x-explanation"])
        for wrong in ("side=front", "balance=some", "percent=900", "percent=nan", "percent=wide", "marks=perhaps", "paper=A9"):
            answer = client.get(f"/api/rolls/{NUMBER}/contact-sheet.pdf?{wrong}")
            assert answer.status_code == 422 and len(answer.json()["detail"]) > 20
        assert client.get("/api/contact-sheet.pdf").status_code == 422
        assert client.get("/api/contact-sheet.pdf?roll=1999-001").status_code == 404
        shown = client.get(f"/print?roll={NUMBER}&more={OTHER}&percent=150&side=emulsion&boxes=true").text
        assert "Enlarged to 150 % of true size on" in shown
        assert f"roll={NUMBER}&amp;roll={OTHER}&amp;paper=A4" in shown and "boxes=True&amp;percent=150" in shown
        wide = client.get(f"/print?roll={NUMBER}&percent=wide")
        assert wide.status_code == 422 and "is no percentage" in wide.text
        plain = client.get(f"/print?roll={NUMBER}").text
        assert "true size on one sheet, with" in plain
    app.state.archive.close()


def test_the_command_takes_every_wish(archive: Archive, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    asked = ["print", "contact-sheet", NUMBER, OTHER, "--archive", str(archive.folder), "--out", str(out)]
    done = CliRunner().invoke(commands, [*asked, "--side", "emulsion", "--boxes", "--marks", "--percent", "130"])
    assert done.exit_code == 0, done.output
    assert "Enlarged to 130 % of true size on 1 sheet of A4" in done.output
    assert "emulsion side up" in pypdf.PdfReader(out).pages[0].extract_text()
    refused = CliRunner().invoke(commands, [*asked, "--percent", "50"])
    assert isinstance(refused.exception, InvalidInput)
