"""What routes are handed: the archive, and a session that is committed before the answer goes out."""

from typing import Annotated

from fastapi import Depends, Request

from catalogue.store.database import Archive


def get_archive(request: Request) -> Archive:
    """The archive that this service serves."""
    archive: Archive = request.app.state.archive
    return archive


ArchiveHere = Annotated[Archive, Depends(get_archive)]
