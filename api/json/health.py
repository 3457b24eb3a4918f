"""Whether the service runs and its archive can be read."""

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict

from api.dependencies import ArchiveHere
from api.errors import documented
from catalogue.rolls import list_rolls
from catalogue.settings_store import ARCHIVE_NAME, get_setting

router = APIRouter(tags=["health"])


class Health(BaseModel):
    """The state of the service."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {"status": "ok", "version": "0.1.0", "archive": "Negatives of the house", "rolls": 24}
        }
    )
    status: str
    version: str
    archive: str
    rolls: int


@router.get("/health", responses=documented(503))
def health(request: Request, archive: ArchiveHere) -> Health:
    """Answers "ok" with the number of rolls, read from the archive."""
    with archive.session() as session:
        return Health(
            status="ok",
            version=request.app.version,
            archive=get_setting(session, ARCHIVE_NAME),
            rolls=len(list_rolls(session)),
        )
