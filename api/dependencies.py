"""What routes are handed: the archive, and a session that is committed before the answer goes out."""

from typing import Annotated

from fastapi import Depends, Request

from api.long.background import Background
from catalogue.store.engine import Archive


def get_archive(request: Request) -> Archive:
    """The archive that this service serves."""
    archive: Archive = request.app.state.archive
    return archive


def get_background(request: Request) -> Background:
    """The long work of this service."""
    background: Background = request.app.state.background
    return background


async def typed_form(request: Request) -> dict[str, str]:
    """A form's fields as texts; read here, so that routes stay plain functions and don't hold up the event loop."""
    async with request.form() as form:
        return {name: value for name, value in form.items() if isinstance(value, str)}


BackgroundHere = Annotated[Background, Depends(get_background)]
ArchiveHere = Annotated[Archive, Depends(get_archive)]
TypedForm = Annotated[dict[str, str], Depends(typed_form)]
