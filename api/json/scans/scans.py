"""Scans: put right, shown positive, cut to frames; and which negative a picture is from."""

from typing import Annotated, Literal

from fastapi import APIRouter, Body
from fastapi.responses import FileResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import HitOut, ScanOut
from catalogue.errors import InvalidInput
from catalogue.scans.edge.numbers import name_stock, read_edge
from catalogue.scans.look.frame_pictures import scan_picture
from catalogue.scans.look.from_picture import from_picture, read_query
from catalogue.scans.look.showing_positive import clear_positive, set_positive
from catalogue.scans.match.covering import cover_page, cover_strip
from catalogue.scans.match.linking import change_scan, untie
from catalogue.scans.write.file_names import names_csv
from catalogue.scans.write.tell import proposed_names, write_sidecars
from catalogue.store.apart import carry_out

router = APIRouter(responses=PROBLEMS, tags=["scans"])


class ScanChanges(BaseModel):
    """What is to change about a scan; None leaves it as it is."""

    model_config = ConfigDict(extra="forbid")
    frame: str | None = Field(default=None, max_length=20)
    role: Literal["master", "working", "cropped", "web"] | None = None
    quarter_turns: int | None = Field(default=None, ge=0, le=3)
    mirrored: bool | None = None
    polarity: Literal["", "negative", "positive"] | None = None


class PositiveIn(BaseModel):
    """How a roll, or one strip, is made positive; the base is found unless a spot is pointed at."""

    model_config = ConfigDict(extra="forbid")
    kind: Literal["black-and-white negative", "colour negative", "slide"]
    exposure: Literal["each", "common"] = "common"
    slope: float | None = Field(default=None, examples=[0.6])
    stops: float = 0.0
    strip: int | None = None
    scan: int | None = Field(default=None, description="The scan that x and y point into.")
    x: float | None = Field(default=None, ge=0, le=1)
    y: float | None = Field(default=None, ge=0, le=1)


class PositiveOut(BaseModel):
    """What was set, and how the film base was found."""

    inversion: str
    exposure: str
    found: str


class Cover(BaseModel):
    """A file that shows a whole strip or page; the part is left, top, width, height in parts of the picture."""

    model_config = ConfigDict(extra="forbid")
    path: str = Field(max_length=1000, examples=["pages/binder-2-page-11.jpg"])
    part: tuple[float, float, float, float] = (0, 0, 1, 1)
    from_the_end: bool = False


class CountOut(BaseModel):
    """How many."""

    count: int


class PictureHitOut(BaseModel):
    """A frame that the picture may be from."""

    hit: HitOut
    score: float
    sure: bool
    how: str


class PictureFoundOut(BaseModel):
    """Which negative a picture is from; `enough` is false for a picture with too little in it."""

    words: str
    enough: bool
    hits: list[PictureHitOut]


class StockName(BaseModel):
    """The stock of a DX number."""

    model_config = ConfigDict(extra="forbid")
    stock: str = Field(max_length=120)


class EdgeOut(BaseModel):
    """What the edge code on a scan says."""

    model_config = ConfigDict(from_attributes=True)
    codes: list[str]
    dx_numbers: list[str]
    stock: str
    agreements: list[str]
    words: str


@router.post("/from-picture")
def which_negative(picture: Annotated[bytes, Body(media_type="image/*")], archive: ArchiveHere) -> PictureFoundOut:
    """Which negative is this picture from? The body is the picture file itself."""
    asked = read_query(picture)
    with archive.session(reading=True) as session:
        found = from_picture(session, asked)
    hits = [PictureHitOut(hit=HitOut.of(h.hit), score=h.score, sure=h.sure, how=h.how) for h in found.hits]
    return PictureFoundOut(words=found.words, enough=found.enough, hits=hits)


@router.patch("/scans/{scan_id}")
def change(scan_id: int, given: ScanChanges, archive: ArchiveHere) -> ScanOut:
    """Puts right what a scan says; the file stays as it is."""
    with archive.session() as session:
        changes = given.model_dump(exclude={"frame"})
        return ScanOut.model_validate(change_scan(session, scan_id, label=given.frame, **changes))


@router.delete("/scans/{scan_id}", status_code=204)
def take_away(scan_id: int, archive: ArchiveHere) -> Response:
    """Takes back that a file shows a frame; the file stays where it is."""
    with archive.session() as session:
        untie(session, scan_id)
    return Response(status_code=204)


@router.get("/scans/{scan_id}/picture")
def picture(scan_id: int, archive: ArchiveHere, large: bool = False, original: bool = False) -> FileResponse:
    """A scan as it is shown, or as the file has it."""
    with archive.session(reading=True) as session:
        path = scan_picture(session, scan_id, large=large, original=original)
    return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "private, no-cache"})


@router.post("/scans/{scan_id}/edge")
def edge(scan_id: int, archive: ArchiveHere) -> EdgeOut:
    """Reads the edge code of a scan that shows the rebate."""
    return EdgeOut.model_validate(carry_out(archive, read_edge, scan_id))


@router.put("/dx/{dx_number}")
def dx(dx_number: str, given: StockName, archive: ArchiveHere) -> StockName:
    """Names the stock of a DX number, once."""
    with archive.session() as session:
        return StockName(stock=name_stock(session, dx_number, given.stock).stock)


@router.put("/rolls/{number}/positive")
def positive(number: str, given: PositiveIn, archive: ArchiveHere) -> PositiveOut:
    """Sets how a roll is made positive; pictures are not altered."""
    point = None
    if given.scan is not None and given.x is not None and given.y is not None:
        point = given.scan, given.x, given.y
    elif (given.scan, given.x, given.y) != (None, None, None):
        raise InvalidInput("A spot is pointed at with scan, x and y together. Give all three, or none to have the base found.")

    def set_and_said(session: Session) -> PositiveOut:
        row = set_positive(
            session, number, given.kind, strip_id=given.strip, exposure=given.exposure, slope=given.slope, stops=given.stops,
            point=point,
        )  # fmt: skip
        return PositiveOut(inversion=row.inversion, exposure=row.exposure, found=row.found)

    return carry_out(archive, set_and_said)


@router.delete("/rolls/{number}/positive", status_code=204)
def as_scanned(number: str, archive: ArchiveHere) -> Response:
    """Shows the roll's scans as they are."""
    with archive.session() as session:
        clear_positive(session, number)
    return Response(status_code=204)


@router.post("/strips/{strip_id}/scan")
def whole_strip(strip_id: int, given: Cover, archive: ArchiveHere) -> CountOut:
    """Ties a scan of a whole strip to its frames."""
    count = carry_out(archive, cover_strip, strip_id, given.path, part=given.part, from_the_end=given.from_the_end)
    return CountOut(count=count)


@router.post("/pages/{page_id}/photograph")
def whole_page(page_id: int, given: Cover, archive: ArchiveHere) -> CountOut:
    """Ties a photograph of a whole page to every frame on it."""
    return CountOut(count=carry_out(archive, cover_page, page_id, given.path, part=given.part))


@router.post("/rolls/{number}/sidecars")
def sidecars(number: str, archive: ArchiveHere) -> CountOut:
    """Writes XMP sidecars beside the scans of a roll; foreign ones are merged."""
    with archive.session(reading=True) as session:
        return CountOut(count=len(write_sidecars(session, number)))


@router.get("/rolls/{number}/scan-names.csv")
def names(number: str, archive: ArchiveHere) -> Response:
    """Names that say roll and frame, proposed for every scan of the roll, as a list."""
    with archive.session(reading=True) as session:
        return Response(names_csv(proposed_names(session, number)), media_type="text/csv; charset=utf-8")
