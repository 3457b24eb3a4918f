"""Film before it is sleeved: noted, changed, listed; and what a cassette's codes say."""

from fastapi import APIRouter, File, Query, UploadFile
from pydantic import BaseModel

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.bench.cassette_picture import MOST_BYTES, cassette_in
from catalogue.bench.waiting import (
    NewWaiting,
    WaitingChanges,
    change_waiting,
    drop_waiting,
    known_stock,
    note_roll,
    waiting_film,
    waiting_view,
)
from catalogue.bench.waiting_views import WaitingView
from catalogue.film.camera_contacts import CameraContacts
from catalogue.film.cassette_code import CassetteCode

router = APIRouter(prefix="/waiting", responses=PROBLEMS, tags=["bench"])


class CassetteOut(BaseModel):
    """What the six digits say; `stock` is the name given once for this DX number, or empty."""

    code: str
    dx_number: str
    exposures: int | None
    stock: str


class ContactsOut(BaseModel):
    """What the contact squares say; None for a code of the maker's own or an unusual length."""

    speed: int | None
    exposures: int | None
    tolerance: str
    words: str


@router.get("")
def listed(archive: ArchiveHere) -> list[WaitingView]:
    """All film that isn't sleeved yet, the roll that waits longest first."""
    with archive.session(reading=True) as session:
        return list(waiting_film(session))


@router.post("", status_code=201)
def note(given: NewWaiting, archive: ArchiveHere) -> WaitingView:
    """Gives a roll its number before it is sleeved."""
    with archive.session() as session:
        return note_roll(session, given)


@router.get("/cassette/{digits}")
def cassette(digits: str, archive: ArchiveHere) -> CassetteOut:
    """What the six digits under a cassette's bar code say."""
    return _cassette(CassetteCode.parse(digits), archive)


@router.post("/cassette-picture")
def cassette_picture(archive: ArchiveHere, picture: UploadFile = File()) -> CassetteOut:
    """The same from a photograph of the bar code."""
    return _cassette(cassette_in(picture.file.read(MOST_BYTES + 1)), archive)


def _cassette(code: CassetteCode, archive: ArchiveHere) -> CassetteOut:
    with archive.session(reading=True) as session:
        stock = known_stock(session, code)
    return CassetteOut(code=str(code), dx_number=str(code.stock), exposures=code.exposures, stock=stock)


@router.get("/contacts/{squares}")
def contacts(squares: str) -> ContactsOut:
    """What the contact squares of a cassette say: 1 bare, 0 painted, upper row first, the spool post to the left."""
    read = CameraContacts.parse(squares)
    return ContactsOut(speed=read.speed, exposures=read.exposures, tolerance=read.tolerance, words=read.words)


@router.get("/{number}")
def one(number: str, archive: ArchiveHere) -> WaitingView:
    """One roll that waits."""
    with archive.session(reading=True) as session:
        return waiting_view(session, number)


@router.patch("/{number}")
def change(number: str, given: WaitingChanges, archive: ArchiveHere) -> WaitingView:
    """Changes what is known of it, also where it stands."""
    with archive.session() as session:
        return change_waiting(session, number, given)


@router.delete("/{number}", status_code=204)
def drop(number: str, archive: ArchiveHere, reason: str = Query(max_length=300, examples=["never used"])) -> None:
    """Takes the note back; the number becomes a gap with the reason."""
    with archive.session() as session:
        drop_waiting(session, number, reason)
