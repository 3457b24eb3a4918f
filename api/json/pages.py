"""Sleeve pages: what lies on them, turning and re-punching, their label and contact sheet."""

from datetime import date
from typing import Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict

from api.dependencies import ArchiveHere, RowId, page_link
from api.errors import documented
from api.json.models import PageOut
from catalogue.errors import InvalidInput
from catalogue.filing import get_page, repunch, turn_page
from catalogue.views import PageView

router = APIRouter(tags=["pages"])

PDF = {200: {"content": {"application/pdf": {}}, "description": "The PDF"}}


class PageChanges(BaseModel):
    """How the page now hangs: turned head to foot, or punched on the other side."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"turned": True}})
    turned: bool | None = None
    ring_side: Literal["left", "right"] | None = None


def page_out(page: PageView) -> PageOut:
    """A page with its placed strips and frames."""
    data = {name: getattr(page, name) for name in PageOut.model_fields if name not in ("strips", "frames")}
    data |= {"strips": page.plan.strips, "frames": page.plan.frames}
    return PageOut.model_validate(data)


def pdf_response(pdf: bytes, name: str, explanation: str = "") -> Response:
    """A PDF to be shown in the browser and saved under this name."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in name)
    headers = {"Content-Disposition": f'inline; filename="{safe}.pdf"', "Cache-Control": "no-store"}
    if explanation:
        headers["Stripleaf-Scale"] = " ".join(explanation.encode("ascii", "replace").decode().split())[:500]
    return Response(pdf, media_type="application/pdf", headers=headers)


@router.get("/pages/{page_id}", responses=documented(404))
def page(archive: ArchiveHere, page_id: RowId) -> PageOut:
    """A page with everything on it."""
    with archive.session() as session:
        return page_out(get_page(session, page_id))


@router.patch("/pages/{page_id}", responses=documented(404, 422))
def change_page(archive: ArchiveHere, page_id: RowId, changes: PageChanges) -> PageOut:
    """Turns or re-punches the page; addresses follow, numbers don't."""
    if changes.turned is None and changes.ring_side is None:
        raise InvalidInput("Nothing to change. Give “turned” or “ring_side”.")
    with archive.session() as session:
        if changes.turned is not None:
            turn_page(session, page_id, changes.turned)
        if changes.ring_side is not None:
            repunch(session, page_id, changes.ring_side)
        return page_out(get_page(session, page_id))


@router.get("/pages/{page_id}/label.pdf", response_class=Response, responses=PDF | documented(404))
def label(request: Request, archive: ArchiveHere, page_id: RowId) -> Response:
    """The index label, as large as the page's index area."""
    from printing.documents import page_label_pdf

    with archive.session() as session:
        view = get_page(session, page_id)
    link = page_link(str(request.base_url), page_id)
    pdf = page_label_pdf(view, printed_on=date.today(), link=link)
    return pdf_response(pdf, f"label-page-{page_id}")


@router.get(
    "/pages/{page_id}/contact-sheet.pdf", response_class=Response, responses=PDF | documented(404, 422)
)
def contact_sheet(
    request: Request,
    archive: ArchiveHere,
    page_id: RowId,
    paper: str = Query("A4", max_length=20),
    fit: str = Query("two sheets", max_length=20, description="another paper, two sheets, or fit"),
) -> Response:
    """The contact sheet of everything on the page, at true size where the paper holds it."""
    from printing.documents import contact_sheet_pdf

    with archive.session() as session:
        view = get_page(session, page_id)
    link = page_link(str(request.base_url), page_id)
    made = contact_sheet_pdf([view], paper=paper, fit=fit, printed_on=date.today(), link=link)
    return pdf_response(made.pdf, f"contact-sheet-page-{page_id}", made.explanation)
