"""The sink's small sums on one page, by its address alone, so that an answer can be kept and come back to."""

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.bench.recipes import colon_choices
from api.web.rendering import page
from api.web.typed import measured, whole
from catalogue.bench import reckoning
from catalogue.bench.recipes import colon_means, list_recipes, recipe_view, set_colon_means
from catalogue.bench.reckoning import Answer
from catalogue.bench.rules.cautions import cautions_for
from catalogue.bench.rules.dilution import AmbiguousRatio
from catalogue.bench.rules.dilution import parse as parse_dilution
from catalogue.bench.rules.figures import parse_number, parse_temperature, parse_time, parse_volume
from catalogue.bench.rules.times.push_pull import PushTable
from catalogue.bench.tanks import list_tanks, tank_view, vessel_of
from catalogue.errors import InvalidInput, StripleafError
from catalogue.film.film_speed import parse_speed, stops_from
from catalogue.settings import get_units
from catalogue.units import Units

router = APIRouter(prefix="/bench")


@dataclass(frozen=True)
class Typed:
    """What was typed into one sum, read in the person's units; an empty field that is needed is asked for."""

    session: Session
    units: Units
    form: dict[str, str]

    def text(self, name: str) -> str:
        """As typed, without blanks around it."""
        return self.form.get(name, "").strip()

    def has(self, *names: str) -> bool:
        """Whether anything was typed into one of these."""
        return any(self.text(name) for name in names)

    def needed(self, name: str, words: str) -> str:
        """What was typed, or `InvalidInput` asking for it."""
        if not self.text(name):
            raise InvalidInput(f"Fill in {words}.")
        return self.text(name)

    def celsius(self, name: str, words: str) -> float:
        """A temperature in °C."""
        return parse_temperature(self.needed(name, words), self.units.temperature)

    def seconds(self, name: str, words: str) -> float:
        """A time in s."""
        return parse_time(self.needed(name, words))

    def ml(self, name: str) -> float | None:
        """A volume in ml, None where nothing was typed."""
        return parse_volume(self.text(name), self.units.volume) if self.has(name) else None

    def key(self, name: str, words: str) -> int:
        """What was chosen from a list."""
        return whole(self.needed(name, words), words) or 0


def _dilution(typed: Typed) -> Answer:
    made = parse_dilution(typed.needed("ratio", "the dilution, for example 1+9"), colon_means(typed.session))
    volume = typed.ml("volume")
    if not typed.has("tank"):
        if volume is None:
            fill_in = "Fill in the volume, for example 600 ml, or choose a tank and say what stands in it."
            return Answer(f"{made.text}: {made.words()}.", (fill_in,))
        return reckoning.mix(made, volume, typed.units.volume)
    counts = {name: whole(typed.text(name), "number of reels") or 0 for name in ("reels35", "reels120")}
    if sum(counts.values()) > 20:
        raise InvalidInput(f"{sum(counts.values())} reels don't go into one tank. Give up to 20.")
    return reckoning.mix_for_tank(
        made, vessel_of(tank_view(typed.session, typed.key("tank", "tank"))), reels_35mm=counts["reels35"],
        reels_120=counts["reels120"], least_ml=typed.ml("least"), volume_ml=volume, unit=typed.units.volume,
    )  # fmt: skip


def _recipe(typed: Typed) -> Answer:
    return reckoning.from_recipe(
        recipe_view(typed.session, typed.key("recipe", "recipe")),
        temperature_c=typed.celsius("tonight", "the temperature") if typed.has("tonight") else None,
        push_stops=measured(typed.text("push").replace("−", "-"), "push in stops") or 0.0,
        rolls_done=parse_number(typed.text("done") or "0"), rolls_now=parse_number(typed.text("now") or "1"),
        unit=typed.units.temperature,
    )  # fmt: skip


def _warmth(typed: Typed) -> Answer:
    second = None
    if typed.has("time2", "at2"):
        second = typed.celsius("at2", "the sheet's second temperature"), typed.seconds("time2", "the sheet's second time")
    return reckoning.at_another_temperature(
        typed.seconds("time", "the sheet's time"), typed.celsius("at", "the sheet's temperature"),
        typed.celsius("bath", "the bath's temperature"), k=measured(typed.text("k"), "coefficient"), second=second,
        unit=typed.units.temperature,
    )  # fmt: skip


def _push(typed: Typed) -> Answer:
    stops = measured(typed.text("stops").replace("−", "-"), "stops")
    if stops is None:
        if not typed.has("pspeed", "pindex"):
            raise InvalidInput("Fill in the stops, or the film's speed and the index it was exposed at.")
        film = parse_speed(typed.needed("pspeed", "the film's speed"))
        stops = stops_from(film, parse_speed(typed.needed("pindex", "the index it was exposed at")))
    return reckoning.pushed(
        parse_time(typed.text("normal")) if typed.has("normal") else None, stops,
        factor=measured(typed.text("factor"), "factor"),
        table=PushTable.parse(typed.form["lines"]) if typed.has("lines") else None,
    )  # fmt: skip


def _drift(typed: Typed) -> Answer:
    return reckoning.drifted(
        typed.celsius("dstart", "the temperature at the start"), typed.celsius("dend", "the temperature at the end"),
        typed.seconds("dtime", "how long the developer was in"), nominal=typed.celsius("dat", "the sheet's temperature"),
        nominal_seconds=typed.seconds("dwanted", "the sheet's time"), k=measured(typed.text("dk"), "coefficient"),
        unit=typed.units.temperature,
    )  # fmt: skip


def _fix(typed: Typed) -> Answer:
    return reckoning.fixed(typed.seconds("clear", "the clearing time"), parse_number(typed.text("times") or "2"))


def _speed(typed: Typed) -> Answer:
    film = parse_speed(typed.needed("speed", "the film's speed"))
    return reckoning.speeds(film, parse_speed(typed.text("index")) if typed.has("index") else None)


def _convert(typed: Typed) -> Answer:
    return reckoning.converted(typed.text("figure"), typed.units)


@dataclass(frozen=True)
class Sum:
    """A section of the page: what it is called in full and in short, the fields that set it going, and how it is answered."""

    title: str
    short: str
    starts: tuple[str, ...]
    answer: Callable[[Typed], Answer]


SUMS: dict[str, Sum] = {
    "dilution": Sum("Dilution and volume", "Dilution", ("ratio", "volume", "least"), _dilution),
    "recipe": Sum("A recipe's time tonight", "A recipe tonight", ("recipe",), _recipe),
    "warmth": Sum("A time at another temperature", "Temperature", ("time", "at", "bath", "k", "time2", "at2"), _warmth),
    "push": Sum("Push and pull", "Push and pull", ("normal", "stops", "pspeed", "pindex", "factor", "lines"), _push),
    "drift": Sum("A bath that cooled or warmed", "Bath that cooled", ("dstart", "dend", "dtime", "dat", "dwanted", "dk"), _drift),
    "fix": Sum("Fixing time from a clearing time", "Fixing", ("clear",), _fix),
    "speed": Sum("Film speed and stops", "Film speed", ("speed", "index"), _speed),
    "convert": Sum("°F and °C, gallon, quart, fluid ounce and ml", "Units", ("figure",), _convert),
}


@router.get("/reckon")
def reckon(request: Request, archive: ArchiveHere) -> Response:
    """The page, with an answer beside every sum that something was typed for."""
    form = {name: value[:1000] for name, value in request.query_params.items()}
    answers: dict[str, Answer] = {}
    problems: dict[str, str] = {}
    asked: AmbiguousRatio | None = None
    with archive.session(reading=True) as session:
        typed = Typed(session, get_units(session), form)
        for key, each in SUMS.items():
            if not typed.has(*each.starts):
                continue
            try:
                answers[key] = each.answer(typed)
            except AmbiguousRatio as problem:
                asked = problem
            except StripleafError as problem:
                problems[key] = str(problem)
        tanks, recipes, means = list_tanks(session), list_recipes(session), colon_means(session)
    return page(
        request, "reckon.html", status=422 if problems or asked else 200, form=form, sums=SUMS, answers=answers,
        problems=problems, asked=asked, choices=colon_choices(asked) if asked else (), tanks=tanks, means=means,
        recipes=[r for r in recipes if r.developer and r.developer.seconds], units=typed.units,
        first=reckoning.SHEET_FIRST, query=urlencode(form),
        cautions=cautions_for(("mixing", "developer", "colour developer", "fixer", "warm water", "disposal")),
    )  # fmt: skip


@router.post("/reckon/colon")
def read_colon(archive: ArchiveHere, form: TypedForm) -> Response:
    """Remembers how a colon is read, and goes on with the sum."""
    with archive.session() as session:
        set_colon_means(session, form.get("means", ""))
    return RedirectResponse(f"/bench/reckon?{form.get('query', '')}#dilution", status_code=303)
