"""Templates and the page map as SVG, drawn from the same plan as the print."""

from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates

from catalogue.film.dates import date_words

templates = Jinja2Templates(directory=Path(__file__).parent.parent / "templates")


templates.env.filters["said"] = date_words
templates.env.filters["urlpart"] = lambda text: quote(str(text), safe="")


def page(request: Request, template: str, /, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page of HTML; the ground (paper, dim or the system's) comes from a cookie."""
    ground = request.cookies.get("ground", "system")
    values["ground"] = ground if ground in ("paper", "dim") else "system"
    return templates.TemplateResponse(request, template, values, status_code=status)
