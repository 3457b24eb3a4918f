"""Costs and supplies: what stocks and sleeve pages cost, what a roll costs, and what to buy at the present pace."""

from collections.abc import Mapping
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import ValidationError
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import measured, refusal, whole
from catalogue.bench.bottles.by_hand import says
from catalogue.bench.bottles.shelf import list_bottles
from catalogue.bench.roll_costs import average, costs_of_processed
from catalogue.bench.rules.baths.film_area import number_text
from catalogue.bench.rules.baths.outlook import pace_words
from catalogue.bench.supplies import (
    USUAL_PACK,
    StockInput,
    SuppliesInput,
    list_stocks,
    processing_pace,
    set_stock,
    set_supplies,
    supplies,
    what_to_buy,
)
from catalogue.errors import InvalidInput, StripleafError
from catalogue.store.engine import Archive

router = APIRouter()
NOTHING: Mapping[str, str] = {}


def _show(
    request: Request, archive: Archive, *, problem: str = "", status: int = 200, form: Mapping[str, str] = NOTHING
) -> Response:
    with archive.session(reading=True) as session:
        today, rolls = date.today(), costs_of_processed(session)
        baths = [(view, view.bath) for view in list_bottles(session) if view.bath and view.bath.passes and not says(view, today)]
        return page(
            request, "supplies.html", status=status, problem=problem, form=form, given=supplies(session),
            stocks=list_stocks(session), rolls=rolls, mean=average(rolls), speed=processing_pace(session, today),
            outlook=what_to_buy(session, today), paces=[(view, pace_words(bath, today)) for view, bath in baths],
            number=number_text,
        )  # fmt: skip


@router.get("/bench/supplies")
def show(request: Request, archive: ArchiveHere, stock: str = "") -> Response:
    """The page; `stock` puts what is known of it into the form."""
    if not stock:
        return _show(request, archive)
    with archive.session(reading=True) as session:
        known = next((one for one in list_stocks(session) if one.stock == stock), None)
    if known is None:
        return _show(request, archive)
    form = {name: "" if value is None else str(value) for name, value in known.model_dump().items()}
    for name, value in (("speed", known.speed), ("weight", known.weight)):
        form[name] = "" if value is None else f"{value:g}"
    return _show(request, archive, form=form)


def _keep(session: Session, form: Mapping[str, str]) -> None:
    if form.get("do") == "stock":
        weight = measured(form.get("weight", ""), "weight")
        set_stock(
            session,
            StockInput(
                stock=form.get("stock", ""), process=form.get("process", ""), speed=measured(form.get("speed", ""), "speed"),
                weight=1.0 if weight is None else weight, price=form.get("price", ""), notes=form.get("notes", ""),
            ),
        )  # fmt: skip
    elif form.get("do") == "pages":
        pack = whole(form.get("pages_pack", ""), "number of pages")
        set_supplies(
            session,
            SuppliesInput(
                currency=form.get("currency", "").strip(), page_price=form.get("page_price", ""),
                pages_left=whole(form.get("pages_left", ""), "number of pages"), pages_pack=USUAL_PACK if pack is None else pack,
            ),
        )  # fmt: skip
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")


@router.post("/bench/supplies")
def keep(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps a stock, or the prices and the pages left."""
    try:
        with archive.session() as session:
            _keep(session, form)
    except ValidationError as trouble:
        return _show(request, archive, problem=refusal(trouble), status=422, form=form)
    except StripleafError as trouble:
        return _show(request, archive, problem=str(trouble), status=422, form=form)
    return RedirectResponse("/bench/supplies", status_code=303)
