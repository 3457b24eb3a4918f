"""Papers in the house, the printer's margins and corrections, and label sheets by their measures; lengths in mm."""

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.desk import papers
from catalogue.desk.papers import EVERY_SHEET, own_key
from catalogue.paper.label_sheets import LabelStock, PrintOffset, own_stock
from catalogue.paper.sizes import PrinterMargins
from catalogue.store.engine import Archive

router = APIRouter(responses=PROBLEMS, tags=["print"])
Key = Annotated[str, Path(max_length=80)]


class PaperIO(BaseModel):
    """A paper by its measures."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=200)
    width_mm: float
    height_mm: float


class PaperOut(PaperIO):
    """A paper known here; `in_the_house` where it is offered and advised."""

    key: str
    in_the_house: bool


class MarginsIO(BaseModel):
    """What the printer leaves blank along each edge of an upright sheet."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)
    top: float = 5.0
    right: float = 5.0
    bottom: float = 5.0
    left: float = 5.0


class CorrectionIO(BaseModel):
    """What the printer is corrected by: `dx` to the right, `dy` down."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)
    dx: float
    dy: float


class SheetIO(BaseModel):
    """A label sheet by its measures; without a left or top edge the labels lie in the middle."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)
    name: str = Field(max_length=200)
    paper: str = Field(default="", max_length=80, description="Left out, the usual paper of those in the house.")
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    left_mm: float | None = None
    top_mm: float | None = None


class SheetOut(SheetIO):
    """A label sheet known here, with the correction that its prints take."""

    key: str
    correction: CorrectionIO


class PapersOut(BaseModel):
    """Everything that holds for every print."""

    papers: list[PaperOut]
    margins: MarginsIO
    label_sheets: list[SheetOut]
    every_sheet: CorrectionIO = Field(description="The correction of label sheets without one of their own.")


def _sheet(stock: LabelStock, correction: PrintOffset) -> SheetOut:
    measures = {name: getattr(stock, name) for name in SheetIO.model_fields if name not in ("name", "paper")}
    given = CorrectionIO.model_validate(correction)
    return SheetOut(key=stock.key, name=stock.name, paper=stock.paper.key, correction=given, **measures)


def _all(archive: Archive) -> PapersOut:
    with archive.session(reading=True) as session:
        here = {p.key for p in papers.papers_here(session)}
        return PapersOut(
            papers=[
                PaperOut(key=p.key, name=p.name, width_mm=p.width_mm, height_mm=p.height_mm, in_the_house=p.key in here)
                for p in papers.all_papers(session)
            ],
            margins=MarginsIO.model_validate(papers.printer_margins(session)),
            label_sheets=[_sheet(s, papers.correction_for(session, s.key)) for s in papers.stocks_here(session)],
            every_sheet=CorrectionIO.model_validate(papers.correction_for(session, EVERY_SHEET)),
        )


@router.get("/papers")
def all_papers(archive: ArchiveHere) -> PapersOut:
    """Papers, margins, label sheets and corrections."""
    return _all(archive)


@router.put("/papers")
def choose(given: list[str], archive: ArchiveHere) -> PapersOut:
    """Sets which of the known papers are in the house; none means all."""
    with archive.session() as session:
        papers.choose_papers(session, given)
    return _all(archive)


@router.post("/papers", status_code=201)
def add_paper(given: PaperIO, archive: ArchiveHere) -> PapersOut:
    """Keeps a paper by its measures."""
    with archive.session() as session:
        papers.add_paper(session, given.name, given.width_mm, given.height_mm)
    return _all(archive)


@router.delete("/papers/{key}")
def remove_paper(key: Key, archive: ArchiveHere) -> PapersOut:
    """Forgets an own paper, unless a label sheet is on it."""
    with archive.session() as session:
        papers.remove_own_paper(session, key)
    return _all(archive)


@router.put("/printer-margins")
def set_margins(given: MarginsIO, archive: ArchiveHere) -> PapersOut:
    """Sets what the printer leaves blank, 0 to 25 mm at each edge."""
    with archive.session() as session:
        papers.set_printer_margins(session, PrinterMargins(**given.model_dump()))
    return _all(archive)


@router.put("/printer-correction")
def set_correction(given: CorrectionIO, archive: ArchiveHere, stock: str = EVERY_SHEET) -> PapersOut:
    """Keeps what labels are corrected by, for one label sheet or for every one without its own."""
    with archive.session() as session:
        papers.keep_correction(session, given.dx, given.dy, stock)
    return _all(archive)


@router.post("/label-sheets", status_code=201)
def add_sheet(given: SheetIO, archive: ArchiveHere) -> PapersOut:
    """Keeps a label sheet by its measures."""
    with archive.session() as session:
        key, name = own_key(given.name, "label sheet")
        measures = given.model_dump(exclude={"name", "paper"})
        papers.add_sheet(session, own_stock(papers.paper_named(session, given.paper), key=key, name=name, **measures))
    return _all(archive)


@router.delete("/label-sheets/{key}")
def remove_sheet(key: Key, archive: ArchiveHere) -> PapersOut:
    """Forgets an own label sheet and its correction."""
    with archive.session() as session:
        papers.remove_own_sheet(session, key)
    return _all(archive)
