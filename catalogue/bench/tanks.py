"""Tanks, and whether these rolls go into one of them on their reels."""

from collections.abc import Mapping

from sqlmodel import Session, func, select

from catalogue.bench.rules.baths.film_area import film_units
from catalogue.bench.rules.tank import REELS, Loading, Reel, TankSize
from catalogue.bench.sink.sink_views import TankView
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput, NotFound
from catalogue.film.formats import FilmFormat
from catalogue.store.tables.bench import Tank

_REEL_KINDS = {"135": "35 mm", "120": "120", "220": "120", "127": "127"}


def add_tank(session: Session, name: str, reels_135: int, holds_ml: float, least_ml: float | None = None) -> TankView:
    """Keeps a tank by its measures; raises `AlreadyExists` for a name in use and `InvalidInput`."""
    vessel = TankSize.for_reels(" ".join(name.split()), reels_135, holds_ml, least_ml)
    there = session.exec(select(Tank).where(func.lower(Tank.name) == vessel.name.lower())).first()
    if there is not None:
        raise AlreadyExists(f"There is a tank {there.name} already. Give this one another name.")
    row = Tank(name=vessel.name, holds_ml=vessel.capacity_ml, reels_135=reels_135, least_ml=vessel.minimum_ml)
    session.add(row)
    session.flush()
    return tank_view(session, row.id or 0)


def tank_view(session: Session, tank_id: int) -> TankView:
    """The tank; raises `NotFound`."""
    row = session.get(Tank, tank_id)
    if row is None:
        raise NotFound(f"There is no tank {tank_id}. Choose one of those listed, or add yours.")
    return TankView(tank_id, row.name, row.holds_ml, row.reels_135, row.least_ml)


def list_tanks(session: Session) -> tuple[TankView, ...]:
    """All tanks by name."""
    return tuple(tank_view(session, key or 0) for key in session.exec(select(Tank.id).order_by(func.lower(Tank.name))))


def vessel_of(tank: TankView) -> TankSize:
    """The tank as the arithmetic takes it."""
    return TankSize.for_reels(tank.name, tank.reels_135, tank.holds_ml, tank.least_ml or None)


def reel_kind(film: FilmFormat) -> str:
    """The kind of reel that takes the film; raises `InvalidInput` for mounts and film no reel is known for."""
    if film.kind == "sheet":
        return "sheet"
    kind = _REEL_KINDS.get(film.gauge)
    if kind is None:
        raise InvalidInput(f"No reel is known for {film.name}. Develop it by itself, and note it as processed.")
    return kind


def loading(tank: TankView, on_reels: Mapping[int, list[tuple[str, FilmFormat, int | None]]]) -> Loading:
    """The reels from the lowest up, each with its rolls (number, film, exposures).

    Raises `DoesNotFit` for two formats or more film than one reel takes on it, and where the tank is too low.
    """
    reels = []
    for place in sorted(on_reels):
        rolls = on_reels[place]
        kinds = {reel_kind(film) for _, film, _ in rolls}
        numbers = ", ".join(number for number, _, _ in rolls)
        if len(kinds) > 1:
            raise DoesNotFit(f"Reel {place} can't take {' and '.join(sorted(kinds))} film ({numbers}). Use a reel for each.")
        (kind,) = kinds
        film_on_it = float(sum(film_units(film, exposures) for _, film, exposures in rolls))
        # Two 120 go on one reel behind one another, as long as a 220; two 135 don't (common practice).
        most = {"120": 2.0, "sheet": 8.0}.get(kind, 1.0)
        if len(rolls) > 1 and (kind == "35 mm" or film_on_it > most + 1e-6):
            raise DoesNotFit(f"Reel {place} can't take {len(rolls)} rolls ({numbers}). Put them on reels of their own.")
        known = REELS[kind]
        reels.append(Reel(kind, known.ml, known.height_mm, film_on_it))
    return Loading(vessel_of(tank), tuple(reels))
