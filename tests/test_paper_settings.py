"""Papers, the printer's margins and corrections, own label sheets: kept, refused with the numbers, and kept to on paper."""

import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pdfplumber
import pypdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from builders import registered
from fastapi.testclient import TestClient
from playwright.sync_api import Browser
from serving import CHROMIUM, REQUIRED, serving
from sqlmodel import Session, select

from api.app import create_app
from api.web.desk.papers import EDGES
from catalogue.desk import papers
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput, NotFound
from catalogue.paper.label_sheets import PrintOffset, StockUse, own_stock
from catalogue.paper.sizes import PAPERS, Paper, PrinterMargins
from catalogue.rolls.file import add_binder
from catalogue.settings import set_setting
from catalogue.sleeves.geometry import Rect
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.rolls import Setting

MM = 72 / 25.4  # a PDF point is 1/72 inch: ISO 32000-1, 8.3.2.3, from memory
A4 = PAPERS["A4"]


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The service on an archive with one roll, in which no setting is ever kept."""
    archive = open_archive(tmp_path_factory.mktemp("still") / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 12, number="2031-001")
    archive.close()
    with TestClient(create_app(archive.folder), follow_redirects=False) as opened:
        yield opened


@pytest.fixture
def client(still: TestClient) -> Iterator[TestClient]:
    """The same with its settings put back afterwards."""
    archive: Archive = still.app.state.archive  # type: ignore[attr-defined]
    with archive.session(reading=True) as session:
        before = {row.key for row in session.exec(select(Setting)).all()}
    yield still
    with archive.session() as session:
        for row in session.exec(select(Setting)).all():
            if row.key not in before:
                session.delete(row)


def nothing_is_kept(client: TestClient) -> bool:
    archive: Archive = client.app.state.archive  # type: ignore[attr-defined]
    with archive.session(reading=True) as session:
        lists = (papers.own_papers(session), papers.own_sheets(session), papers.papers_chosen(session))
        return not any(lists) and not papers.corrections(session) and (papers.printer_margins(session) == PrinterMargins())


def test_settings_come_back_as_they_were_kept(archive: Archive) -> None:
    with archive.session() as session:
        papers.add_paper(session, " Baryta  13 × 18 ", 180, 130)
        papers.choose_papers(session, ["A4", "8x10"])
        papers.set_printer_margins(session, PrinterMargins(3, 4, 12.7, 0))
        papers.keep_correction(session, 0.5, -0.5)
        papers.keep_correction(session, -1.5, 2, "a4-3x7")
        papers.add_sheet(session, own_stock(A4, 2, 5, 90, 50, 5, name="Box ends"))
    with archive.session(reading=True) as session:
        assert [(p.name, p.width_mm, p.height_mm) for p in papers.papers_here(session)] == [
            ("A4", 210, 297), ("8 × 10 in", 203.2, 254), ("Baryta 13 × 18", 130, 180),
        ]  # fmt: skip
        own = papers.paper_named(session, "baryta 13x18")
        assert own.printable == Rect(0, 3, 126, 180 - 3 - 12.7)
        assert own.margin_mm == 12.7
        assert papers.use_of(session, "a4-3x7").outline(1).x == pytest.approx(7.21 - 1.5)
        assert papers.use_of(session, "a4-3x7", dx=0).offset.dx == 0
        assert papers.use_of(session, "Box ends").offset.dx == 0.5
        assert len(papers.stocks_here(session)) == 11
    with archive.session() as session:
        for sheet in ("a4-3x7", papers.EVERY_SHEET):
            papers.remove_correction(session, sheet)
        papers.remove_own_sheet(session, "own-box-ends")
        papers.remove_own_paper(session, own.key)
        papers.choose_papers(session, [])
        assert [p.key for p in papers.papers_here(session)] == list(PAPERS)
        assert papers.use_of(session, "a4-3x7").offset.dx == 0
        assert len(papers.stocks_here(session)) == 10


def test_paper_left_out_is_one_that_is_in_the_house(session: Session) -> None:
    assert papers.paper_named(session).key == "A4"
    papers.choose_papers(session, ["8x10in", "Letter"])
    assert papers.paper_named(session).key == "Letter"
    papers.choose_papers(session, ["A3"])
    assert papers.paper_named(session, among=("A4", "Letter")).key == "A4"  # a book needs one of the two


def test_a_paper_whose_margins_contradict_one_another_is_refused() -> None:
    with pytest.raises(InvalidInput, match="margins of"):
        Paper("x", "x", 100, 150, 5, (1, 2, 3, 4))


@pytest.mark.parametrize(
    ("call", "kind", "words"),
    [
        (lambda s: PrinterMargins(bottom=25.5), InvalidInput, r"25\.5 mm at the bottom .* 0 to 25 mm"),
        (lambda s: PrinterMargins(left=float("nan")), InvalidInput, "at the left"),
        (lambda s: PrintOffset(5.5, 0), InvalidInput, r"5\.5 mm across and 0 mm down is more than 5 mm"),
        (lambda s: papers.add_paper(s, "Stamp", 20, 30), InvalidInput, "20 × 30 mm .* 90 to 1200 mm"),
        (lambda s: papers.add_paper(s, " – ", 100, 150), InvalidInput, "1 to 60 characters"),
        (lambda s: papers.add_paper(s, "A4", 100, 150), AlreadyExists, "known paper “A4”"),
        (lambda s: papers.choose_papers(s, ["A4", "napkin"]), InvalidInput, "“napkin” is not a paper"),
        (lambda s: papers.remove_own_paper(s, "own-gone"), NotFound, "“own-gone”"),
        (lambda s: papers.remove_own_sheet(s, "own-gone"), NotFound, "“own-gone”"),
        (lambda s: papers.keep_correction(s, 1, 1, "cloth"), InvalidInput, "“cloth” is not a label sheet"),
        (lambda s: papers.add_sheet(s, own_stock(A4, 3, 8, 15, 5, name="Slivers")), DoesNotFit, r"12\.0 × 2\.0 mm"),
        (lambda s: papers.add_sheet(s, own_stock(A4, 3, 8, 60, 30, name="a4-3x7")), AlreadyExists, "known label sheet “a4-3x7”"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_the_numbers(
    still: TestClient, call: Callable[[Session], object], kind: type[Exception], words: str
) -> None:
    archive: Archive = still.app.state.archive  # type: ignore[attr-defined]
    with pytest.raises(kind, match=words), archive.session() as session:
        call(session)
    assert nothing_is_kept(still)


def test_a_paper_stays_while_a_label_sheet_is_on_it(session: Session) -> None:
    paper = papers.add_paper(session, "Small card", 120, 160)
    with pytest.raises(AlreadyExists, match="“small card” already"):
        papers.add_paper(session, "small card", 100, 150)
    papers.add_sheet(session, own_stock(paper, 1, 3, 80, 40, name="Card labels"))
    with pytest.raises(InvalidInput, match="“Card labels” is on this paper"):
        papers.remove_own_paper(session, paper.key)
    papers.remove_own_sheet(session, "own-card-labels")
    papers.remove_own_paper(session, paper.key)
    assert not papers.own_papers(session)


FORM = {"name": "Box ends", "paper": "A4", "columns": "2", "rows": "4", "width": "90", "height": "60",
        "gap_x": "6", "gap_y": "3,5", "left": "11", "top": ""}  # fmt: skip


def test_an_own_sheet_prints_where_it_was_measured_moved_by_the_correction(client: TestClient) -> None:
    looked = client.post("/papers/label-sheets", data={**FORM, "do": "look"})
    assert "8 labels on A4; the first begins 11 mm from the left" in " ".join(looked.text.split())
    assert looked.text.count("<rect") == 1 + 1 + 8  # the paper, the printer's reach, the labels
    assert "Box ends" not in client.get("/print").text  # looked at only
    assert client.post("/papers/label-sheets", data={**FORM, "do": "keep"}).status_code == 303
    kept = client.post("/papers", data={"do": "correct", "dx": "−1.5", "dy": "0,5", "for": "own-box-ends", "shown": "a4-3x7"})
    assert (kept.status_code, kept.headers["location"]) == (303, "/papers?stock=a4-3x7#corrections")
    answer = client.get("/api/label-test.pdf?stock=Box ends")
    with pdfplumber.open(io.BytesIO(answer.content)) as pdf:
        lines = [(r["x0"] / MM, r["top"] / MM, r["x1"] / MM, r["bottom"] / MM) for r in pdf.pages[0].lines]
        assert "−1.5 mm across and +0.5 mm down" in " ".join(pdf.pages[0].extract_text().split())
    # By hand: the top edge is (297 - 4 × 60 - 3 × 3.5) / 2 = 23.25 mm, label 4 begins at 11 + 90 + 6 = 107 and 23.25 + 63.5.
    for x, y in ((11, 23.25), (107, 86.75)):
        for edge in ((x, y, x + 90, y), (x, y + 60, x + 90, y + 60), (x, y, x, y + 60), (x + 90, y, x + 90, y + 60)):
            want = (edge[0] - 1.5, edge[1] + 0.5, edge[2] - 1.5, edge[3] + 0.5)
            assert any(line == pytest.approx(want, abs=0.1) for line in lines), want
    answer = client.get("/api/rolls/2031-001/label.pdf?stock=own-box-ends&start=4")
    with pdfplumber.open(io.BytesIO(answer.content)) as pdf:
        tops = [w for w in pdf.pages[0].extract_words() if w["top"] / MM > 60]
    # Everything of the one label lies in label 4 less its safe edge of 1.5 mm, as corrected.
    assert 107 <= min(w["x0"] for w in tops) / MM <= 107.1 + 1
    assert max(w["bottom"] for w in tops if w["top"] / MM < 200) / MM <= 86.75 + 60 + 0.5 - 1.5 + 0.1


def test_labels_keep_out_of_the_edge_that_the_printer_leaves_blank(session: Session) -> None:
    papers.set_printer_margins(session, PrinterMargins(4, 4, 15, 4))
    use = papers.use_of(session, "a4-3x8-edge")
    assert use.printable == Rect(4, 4, 202, 278)
    # The grid ends 0.5 mm above the paper's lower edge: 15 - 0.5 mm of each label stay free there, 4 - 0.5 mm above.
    assert use.insets == (4, 3.5, 4, 14.5)


@pytest.mark.parametrize(
    ("path", "form", "said"),
    [
        ("/papers", {"do": "margins", **{f"margin_{edge}": "30" for edge in EDGES}}, "30 mm at the top"),
        ("/papers", {"do": "margins", "margin_top": "", "margin_right": "5"}, "Measure this too: margin at the top"),
        ("/papers", {"do": "paper", "name": "Long", "width": "100", "height": "2000"}, "100 × 2000 mm"),
        ("/papers", {"do": "correct", "dx": "9", "dy": "0", "for": ""}, "9 mm across"),
        ("/papers", {"do": "correct", "dx": "", "dy": "0", "for": ""}, "number across too"),
        ("/papers", {"do": "forget sheet", "key": "own-gone"}, "own-gone"),
        ("/papers", {"do": "juggle"}, "known here"),
        ("/papers/label-sheets", {**FORM, "columns": "3", "left": ""}, "take 282 mm across and the sheet measures 210 mm"),
        ("/papers/label-sheets", {**FORM, "rows": ""}, "Count the labels across and down"),
        ("/papers/label-sheets", {**FORM, "paper": "napkin"}, "not a paper known here"),
    ],
)  # fmt: skip
def test_a_form_refused_says_why_and_keeps_nothing(still: TestClient, path: str, form: dict[str, str], said: str) -> None:
    answer = still.post(path, data=form)
    assert (answer.status_code, 'role="alert"' in answer.text) == (422, True)
    assert said in answer.text
    assert nothing_is_kept(still)


def test_the_same_by_json(client: TestClient) -> None:
    sheet = {"name": "Card labels", "paper": "Proof card", "columns": 1, "rows": 3, "width_mm": 80, "height_mm": 40}
    calls = [
        client.put("/api/papers", json=["Letter"]),
        client.post("/api/papers", json={"name": "Proof card", "width_mm": 180, "height_mm": 130}),
        client.put("/api/printer-margins", json={"bottom": 12}),
        client.post("/api/label-sheets", json=sheet),
        client.put("/api/printer-correction?stock=card labels", json={"dx": 1, "dy": -2}),
        client.put("/api/printer-correction", json={"dx": 0.5, "dy": 0}),
    ]
    assert [c.status_code for c in calls] == [200, 201, 200, 201, 200, 200], [c.text for c in calls]
    told = calls[-1].json()
    assert told == client.get("/api/papers").json()
    assert [p["key"] for p in told["papers"] if p["in_the_house"]] == ["Letter", "own-proof-card"]
    assert told["margins"] == {"top": 5, "right": 5, "bottom": 12, "left": 5}
    last = told["label_sheets"][-1]
    # In the middle of 130 × 180 mm: (130 - 80) / 2 and (180 - 3 × 40) / 2.
    assert (last["key"], last["left_mm"], last["top_mm"]) == ("own-card-labels", 25, 30)
    assert (last["correction"], told["label_sheets"][0]["correction"]) == ({"dx": 1, "dy": -2}, {"dx": 0.5, "dy": 0})
    assert client.delete("/api/papers/own-proof-card").status_code == 422
    assert client.delete("/api/label-sheets/own-card-labels").status_code == 200
    assert client.delete("/api/papers/own-proof-card").status_code == 200
    assert client.delete("/api/papers/own-proof-card").status_code == 404
    for path, wrong in (
        ("/api/papers", ["napkin"]),
        ("/api/printer-margins", {"top": 26}),
        ("/api/printer-correction", {"dx": 6, "dy": 0}),
    ):
        answer = client.put(path, json=wrong)
        assert (answer.status_code, bool(answer.json()["detail"])) == (422, True), path


def test_the_print_page_offers_and_advises_papers_in_the_house_only(client: TestClient) -> None:
    assert "A3" in client.get("/print?roll=2031-001").text
    client.post("/papers", data={"do": "choose", "has Letter": "yes"})
    client.post("/papers", data={"do": "paper", "name": "Proof card", "width": "130", "height": "180"})
    text = client.get("/print?roll=2031-001").text
    assert '<option value="Letter" selected>' in text
    assert "Proof card:" in text  # advised on
    assert ">A4<" not in text
    sheet = pypdf.PdfReader(io.BytesIO(client.get("/api/rolls/2031-001/contact-sheet.pdf?fit=fit").content)).pages[0]
    assert sorted((float(sheet.mediabox.width), float(sheet.mediabox.height))) == pytest.approx([612, 792])  # 8.5 × 11 in


def test_measures_are_read_in_the_units_set(client: TestClient) -> None:
    archive: Archive = client.app.state.archive  # type: ignore[attr-defined]
    with archive.session() as session:
        set_setting(session, "unit_length", "inch")
    inches = {**FORM, "width": "3.5", "height": "2", "gap_x": "0.25", "gap_y": "0", "left": "", "top": "", "do": "keep"}
    assert client.post("/papers/label-sheets", data=inches).status_code == 303
    assert "labels of 3.5 × 2 inch" in " ".join(client.get("/papers").text.split())
    with archive.session(reading=True) as session:
        stock = papers.stock_named(session, "Box ends")
    assert (stock.width_mm, stock.height_mm, stock.gap_x_mm) == pytest.approx((88.9, 50.8, 6.35))
    assert StockUse(stock).text_area(1).width == pytest.approx(88.9 - 3)


def test_a_bottle_tag_and_the_finding_aid_are_printed(still: TestClient) -> None:
    path = "/api/bottle-tag.pdf?name=Fixer&what=1%2B4&mixed=2031-05-14&rolls=20"
    text = pypdf.PdfReader(io.BytesIO(still.get(path).content)).pages[0].extract_text()
    assert not [said for said in ("Fixer", "1+4", "14 May 2031", "20 rolls", "Caution") if said not in text]
    for wrong, said in (("mixed=yesterday", "not a date"), ("rolls=401", "400"), ("stock=a4-5x13&rolls=90", "90 boxes")):
        refused = still.get(f"/api/bottle-tag.pdf?name=Fixer&{wrong}")
        assert (refused.status_code, said in refused.json()["detail"]) == (422, True), refused.text
    aid = "\n".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(still.get("/api/finding-aid.pdf").content)).pages)
    assert not [said for said in ("Binder 1", "2031-001", "Extent and medium") if said not in aid]
    assert still.get("/api/finding-aid.pdf?paper=A3").status_code == 422


@pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")
def test_axe_finds_nothing_on_the_pages(browser: Browser, tmp_path: Path) -> None:
    app = create_app(tmp_path / "archive")
    with app.state.archive.session() as session:
        papers.add_paper(session, "Proof card", 130, 180)
        papers.add_sheet(session, own_stock(A4, 2, 4, 90, 60, name="Box ends"))
        papers.keep_correction(session, -1.5, 0.5, "Box ends")
    with serving(app) as address:
        for width, ground in ((390, "dark"), (390, "light")):
            context = browser.new_context(viewport={"width": width, "height": 850}, color_scheme=ground)  # type: ignore[arg-type]
            opened = context.new_page()
            for path in ("/papers?stock=own-box-ends", "/papers/label-sheets?like=a4-3x7"):
                opened.goto(address + path)
                if "label-sheets" in path:
                    opened.fill("#name", "Measured")
                    opened.get_by_role("button", name="Look at it").click()
                    opened.get_by_role("img", name="3 labels across and 7 down").wait_for()
                found = Axe().run(opened)
                assert found.violations_count == 0, f"{path} ({ground}): {found.generate_report()}"
                assert opened.evaluate("document.documentElement.scrollWidth") <= width, path
                small = opened.evaluate(
                    "[...document.querySelectorAll('main button, main a.button, main input:not([type=hidden]), main select')]"
                    ".filter(e => e.getBoundingClientRect().height < 24).length"
                )
                assert small == 0, path
            context.close()
