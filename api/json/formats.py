"""Film formats: the built-in ones and a person's own."""

import re
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import documented
from api.json.models import FormatOut
from catalogue.errors import InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.own_shapes import add_format, all_formats

router = APIRouter(tags=["formats"])


def key_from(name: str) -> str:
    """A key made of a name: lower case, words joined by hyphens."""
    key = re.sub(r"[^a-z0-9.]+", "-", name.casefold().replace("×", "x")).strip("-.")
    if not key:
        raise InvalidInput("The key needs letters a to z or digits. Give one, for example strip-30x30.")
    return key


class NewFormat(BaseModel):
    """An own format; lengths in mm, the pitch from the start of one frame to the start of the next."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "name": "Short 60 mm roll, 30 × 56",
                "gauge": "120",
                "gauge_width_mm": 61.5,
                "frame_along_mm": 30,
                "frame_across_mm": 56,
                "pitch_mm": 35,
                "usual_exposures": [20],
            }
        },
    )
    key: str = Field(default="", max_length=40, description="Empty: made from the name.")
    name: str = Field(min_length=1, max_length=60)
    gauge: str = Field(min_length=1, max_length=20)
    kind: Literal["strip", "sheet", "mount"] = "strip"
    gauge_width_mm: float
    frame_along_mm: float
    frame_across_mm: float
    pitch_mm: float
    usual_exposures: list[int] = Field(default=[1], max_length=10)
    source: str = Field(default="measured by the owner", max_length=200)


@router.get("/formats", responses=documented(503))
def formats(archive: ArchiveHere) -> list[FormatOut]:
    """Every film format known, built in and own."""
    with archive.session() as session:
        return [FormatOut.model_validate(film) for film in all_formats(session)]


@router.post("/formats", status_code=201, responses=documented(409, 422))
def new_format(archive: ArchiveHere, given: NewFormat) -> FormatOut:
    """Keeps an own format."""
    values = given.model_dump() | {
        "key": key_from(given.key or given.name),
        "usual_exposures": tuple(given.usual_exposures),
    }
    with archive.session() as session:
        return FormatOut.model_validate(add_format(session, FilmFormat(**values)))
