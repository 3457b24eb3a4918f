"""Finding a roll or a frame: by its number first, then by words, always with its address."""

from typing import Any

from sqlalchemy import bindparam, text
from sqlmodel import Session, col, select

from catalogue.film.dates import date_words
from catalogue.film.roll_numbers import match_reference
from catalogue.own_shapes import format_of
from catalogue.rolls.page import frame_address
from catalogue.store.index import match_frames, match_rolls
from catalogue.store.tables.rolls import Binder, FormerNumber, Frame, Roll
from catalogue.views import FoundView, Hit, PageView

_RANKED = 2000  # ranking every frame that holds a common word would be slow


def _hit(session: Session, pages: dict[int, PageView], roll: Roll, frame: Frame | None, *, exact: bool = False) -> Hit:
    shown = frame or session.exec(select(Frame).where(Frame.roll_id == roll.id).order_by(col(Frame.position))).first()
    address, page_id = frame_address(session, roll, shown, pages) if shown else (None, None)
    format_name = format_of(session, roll.format_key).name
    detail = " · ".join(t for t in (date_words(roll.exposed), format_name, roll.stock, roll.camera) if t)
    title = (frame.caption if frame else "") or roll.subject or roll.place
    return Hit(
        kind="frame" if frame else "roll",
        roll=roll.number,
        frame=frame.label if frame else None,
        title=title,
        detail=detail,
        address=address,
        page_id=page_id,
        frame_id=shown.id if shown else None,
        exact=exact,
    )


def _numbers(session: Session) -> dict[str, int]:
    """Roll ids by every number they have or had; former ones keep out of a present one's way."""
    former = dict(session.exec(select(FormerNumber.number, FormerNumber.roll_id)).all())
    return former | {number: key or 0 for number, key in session.exec(select(Roll.number, Roll.id))}


def _exact(session: Session, pages: dict[int, PageView], q: str) -> list[Hit]:
    numbers = _numbers(session)
    hits: list[Hit] = []
    for number, label in match_reference(q, numbers):
        roll = session.get_one(Roll, numbers[number])
        if label is None:
            hits.append(_hit(session, pages, roll, None, exact=True))
            continue
        frame = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == label)).first()
        if frame is not None:
            hits.append(_hit(session, pages, roll, frame, exact=True))
        if len(hits) >= 20:
            break
    return hits


def _narrowing(
    session: Session,
    year: int | None,
    format: str | None,
    stock: str | None,
    camera: str | None,
    binder: str | None,
) -> tuple[str, dict[str, Any]]:
    where: list[str] = ["1 = 1"]
    values: dict[str, Any] = {}
    if year is not None:
        # Any date of the roll that may touch the year; open ends count as touching.
        where.append(
            "((r.exposed <> '' AND coalesce(r.exposed_from, '0000') <= :year_end"
            " AND coalesce(r.exposed_to, '9999') >= :year_start)"
            " OR (r.exposed = '' AND r.processed <> '' AND coalesce(r.processed_from, '0000') <= :year_end"
            " AND coalesce(r.processed_to, '9999') >= :year_start))"
        )
        values |= {"year_start": f"{year:04}-01-01", "year_end": f"{year:04}-12-31"}
    if format:
        where.append("r.format_key = :format")
        values["format"] = format_of(session, format).key
    for name, given in (("stock", stock), ("camera", camera)):
        if given:
            where.append(f"r.{name} = :{name}")
            values[name] = given
    if binder:
        where.append(
            "EXISTS (SELECT 1 FROM strip s JOIN page p ON p.id = s.page_id"
            " JOIN binder b ON b.id = p.binder_id WHERE s.roll_id = r.id AND b.name = :binder)"
        )
        values["binder"] = binder
    return " AND ".join(where), values


def find(
    session: Session,
    q: str,
    *,
    year: int | None = None,
    format: str | None = None,
    stock: str | None = None,
    camera: str | None = None,
    binder: str | None = None,
    limit: int = 50,
) -> FoundView:
    """What the words or the reference `q` mean; an empty `q` lists rolls, newest first."""
    q = q[:300]
    pages: dict[int, PageView] = {}  # planned once each
    narrow, values = _narrowing(session, year, format, stock, camera, binder)
    connection = session.connection()
    # A roll's former number may read like its present one: each place is told once.
    hits = list({(h.roll, h.frame): h for h in _exact(session, pages, q)}.values()) if q.strip() else []
    if hits and len(values):
        allowed = {row[0] for row in connection.execute(text(f"SELECT r.number FROM roll r WHERE {narrow}"), values)}
        hits = [h for h in hits if h.roll in allowed]
    ids: list[tuple[int, int | None]] = []
    if not q.strip():
        rows = connection.execute(
            text(f"SELECT r.id, NULL FROM roll r WHERE {narrow} ORDER BY r.number_sort DESC LIMIT :n"),
            values | {"n": limit + 1},
        )
        ids = [(row[0], row[1]) for row in rows]
    else:
        for match, kind in ((match_rolls(q), "IS NULL"), (match_frames(q), "IS NOT NULL")):
            if match:
                rows = connection.execute(
                    text(
                        # Narrowed before the bound, so that it never hides what was asked for.
                        "SELECT roll_id, frame_id FROM (SELECT found.rowid AS n, found.roll_id,"
                        " found.frame_id, found.rank AS score, r.number_sort AS number"
                        " FROM found JOIN roll r ON r.id = found.roll_id"
                        f" WHERE found MATCH :match AND found.frame_id {kind} AND {narrow}"
                        " ORDER BY found.rowid DESC LIMIT :ranked)"
                        " ORDER BY score, number DESC, n LIMIT :n"
                    ).bindparams(bindparam("match", match)),
                    values | {"ranked": _RANKED, "n": limit + 1},
                )
                ids += [(row[0], row[1]) for row in rows]
    seen = {(h.roll, h.frame) for h in hits}
    for roll_id, frame_id in ids[: limit + 1]:
        roll = session.get_one(Roll, roll_id)
        frame = session.get_one(Frame, frame_id) if frame_id else None
        if (roll.number, frame.label if frame else None) not in seen:
            hits.append(_hit(session, pages, roll, frame))
    return FoundView(hits=tuple(hits[:limit]), more=len(hits) > limit, **_offers(session))


def _offers(session: Session) -> dict[str, Any]:
    """The values that narrowing can take."""
    years: set[int] = set()
    for first, last in session.exec(select(Roll.exposed_from, Roll.exposed_to).distinct()):
        if first and last and int(last[:4]) - int(first[:4]) <= 20:
            years |= set(range(int(first[:4]), int(last[:4]) + 1))
    return {
        "years": tuple(sorted(years, reverse=True)),
        "formats": tuple(sorted(session.exec(select(Roll.format_key).distinct()))),
        "stocks": tuple(sorted(v for v in session.exec(select(Roll.stock).distinct()) if v)),
        "cameras": tuple(sorted(v for v in session.exec(select(Roll.camera).distinct()) if v)),
        "binders": tuple(session.exec(select(Binder.name).order_by(col(Binder.position)))),
    }
