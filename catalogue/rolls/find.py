"""Finding a roll or a frame: by its number first, then by words, always with its address."""

from typing import Any

from sqlalchemy import bindparam, text
from sqlmodel import Session, col, func, select

from catalogue.film.dates import date_words
from catalogue.film.roll_numbers import references
from catalogue.own_shapes import format_of, formats_of
from catalogue.rolls.page import places_of
from catalogue.store.index import match_frames, match_rolls
from catalogue.store.tables.rolls import Binder, Frame, IssuedNumber, Roll
from catalogue.views import FoundView, Hit

_RANKED = 2000  # ranking every frame that holds a common word would be slow


def _exact(session: Session, q: str, most: int) -> list[tuple[int, int | None]]:
    """Rolls, or frames of them, that a typed reference means: whole numbers before short ones, newest first."""
    meant = references(q)
    found: list[tuple[int, int | None]] = []
    for column, asked in ((IssuedNumber.squeezed, meant), (IssuedNumber.tail, [one for one in meant if one.short])):
        for one in asked:
            query = select(IssuedNumber.roll_id, Frame.id).where(column == one.squeezed, col(IssuedNumber.roll_id).is_not(None))
            on = (col(Frame.roll_id) == col(IssuedNumber.roll_id)) & (col(Frame.label) == one.frame)
            query = query.join(Frame, on, isouter=one.frame is None)
            found += session.exec(query.order_by(col(IssuedNumber.sort).desc()).limit(most)).all()  # type: ignore[arg-type]
    return list(dict.fromkeys(found))


def _hits(session: Session, found: list[tuple[int, int | None]], exact: set[tuple[int, int | None]]) -> tuple[Hit, ...]:
    """The hits with their addresses: the same few queries however many there are."""
    rolls = {r.id: r for r in session.exec(select(Roll).where(col(Roll.id).in_({roll for roll, _ in found})))}
    named = select(Frame.id, Frame.label, Frame.caption).where(col(Frame.id).in_({frame for _, frame in found if frame}))
    frames = {key: (label, caption) for key, label, caption in session.exec(named)}
    # A roll is shown by its first frame.
    firsts = select(Frame.roll_id, Frame.id, func.min(Frame.position)).where(
        col(Frame.roll_id).in_({roll for roll, frame in found if frame is None})
    )
    first = {roll: key for roll, key, _ in session.exec(firsts.group_by(col(Frame.roll_id)))}
    formats = formats_of(session, {roll.format_key for roll in rolls.values()})
    places = places_of(session, {shown for roll, frame in found if (shown := frame or first.get(roll))})
    hits = []
    for key, frame in found:
        roll, shown = rolls[key], frame or first.get(key)
        label, caption = frames[frame] if frame else (None, "")
        place = places.get(shown) if shown else None
        details = (date_words(roll.exposed), formats[roll.format_key].name, roll.stock, roll.camera)
        hits.append(
            Hit(
                kind="frame" if frame else "roll", roll=roll.number, frame=label, title=caption or roll.subject or roll.place,
                detail=" · ".join(text for text in details if text), address=place.address if place else None,
                page_id=place.page_id if place else None, frame_id=shown, exact=(key, frame) in exact,
            )
        )  # fmt: skip
    return tuple(hits)


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
    narrow, values = _narrowing(session, year, format, stock, camera, binder)
    connection = session.connection()
    exact = _exact(session, q, limit + 1) if q.strip() else []
    if exact and len(values):
        kept = connection.execute(
            text(f"SELECT r.id FROM roll r WHERE r.id IN ({', '.join(str(roll) for roll, _ in exact)}) AND {narrow}"), values
        )
        allowed = {row[0] for row in kept}
        exact = [one for one in exact if one[0] in allowed]
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
    # A roll's former number may read like its present one: each place is told once.
    found = list(dict.fromkeys([*exact, *ids]))
    return FoundView(hits=_hits(session, found[:limit], set(exact)), more=len(found) > limit, **_offers(session))


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
