"""Formats and sleeve pages that the person defined, beside the built-in ones."""

import json
from collections.abc import Iterable
from dataclasses import asdict

from sqlmodel import Session, select

from catalogue.errors import AlreadyExists
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat, find_format
from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS, SleeveLayout, find_layout
from catalogue.store.tables.rolls import OwnFormat, OwnLayout


def own_formats(session: Session) -> tuple[FilmFormat, ...]:
    """The person's own formats, by key."""
    rows = session.exec(select(OwnFormat).order_by(OwnFormat.key)).all()
    return tuple(
        FilmFormat(**(data | {"usual_exposures": tuple(data["usual_exposures"])}))
        for data in (json.loads(row.data) for row in rows)
    )


def own_layouts(session: Session) -> tuple[SleeveLayout, ...]:
    """The person's own sleeve pages, by key."""
    rows = session.exec(select(OwnLayout).order_by(OwnLayout.key)).all()
    return tuple(_layout(json.loads(row.data)) for row in rows)


def _layout(data: dict) -> SleeveLayout:  # type: ignore[type-arg]
    return SleeveLayout(
        **data
        | {
            "page": Size(**data["page"]),
            "index_area": Rect(**data["index_area"]),
            "gauges": tuple(data["gauges"]),
        }
    )


def add_format(session: Session, film: FilmFormat) -> FilmFormat:
    """Keeps an own format; its key must be new."""
    if film.key in BUILT_IN_FORMATS or session.get(OwnFormat, film.key) is not None:
        raise AlreadyExists(f"There is a format “{film.key}” already. Give yours another key.")
    session.add(OwnFormat(key=film.key, data=json.dumps(asdict(film))))
    session.flush()
    return film


def add_layout(session: Session, layout: SleeveLayout) -> SleeveLayout:
    """Keeps an own sleeve page; its key must be new."""
    if layout.key in BUILT_IN_LAYOUTS or session.get(OwnLayout, layout.key) is not None:
        raise AlreadyExists(f"There is a sleeve page “{layout.key}” already. Give yours another key.")
    session.add(OwnLayout(key=layout.key, data=json.dumps(asdict(layout))))
    session.flush()
    return layout


def format_of(session: Session, text: str) -> FilmFormat:
    """A format, own or built in; raises `UnknownFormat`."""
    if text in BUILT_IN_FORMATS:  # an own key never equals a built-in one, so the table needn't be asked
        return BUILT_IN_FORMATS[text]
    return find_format(text, own_formats(session))


def formats_of(session: Session, keys: Iterable[str]) -> dict[str, FilmFormat]:
    """The formats of these keys, own or built in, with one query at most; raises `UnknownFormat`."""
    wanted = set(keys)
    own = own_formats(session) if wanted - BUILT_IN_FORMATS.keys() else ()
    return {key: BUILT_IN_FORMATS[key] if key in BUILT_IN_FORMATS else find_format(key, own) for key in wanted}


def layouts_of(session: Session, keys: Iterable[str]) -> dict[str, SleeveLayout]:
    """The sleeve pages of these keys, own or built in, with one query at most; raises `UnknownLayout`."""
    wanted = set(keys)
    own = own_layouts(session) if wanted - BUILT_IN_LAYOUTS.keys() else ()
    return {key: BUILT_IN_LAYOUTS[key] if key in BUILT_IN_LAYOUTS else find_layout(key, own) for key in wanted}


def layout_of(session: Session, text: str, film: FilmFormat | None = None) -> SleeveLayout:
    """A sleeve page, own or built in, that takes the film where its short name fits several; raises `UnknownLayout`."""
    if text in BUILT_IN_LAYOUTS:
        return BUILT_IN_LAYOUTS[text]
    return find_layout(text, own_layouts(session), film.gauge if film else "")


def all_formats(session: Session) -> tuple[FilmFormat, ...]:
    """Built-in formats, then own ones."""
    return (*BUILT_IN_FORMATS.values(), *own_formats(session))


def all_layouts(session: Session) -> tuple[SleeveLayout, ...]:
    """Built-in pages, then own ones."""
    return (*BUILT_IN_LAYOUTS.values(), *own_layouts(session))
