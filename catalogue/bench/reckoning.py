"""The small sums of the sink, each answered with a sentence, its reason and its warnings. Nothing is stored.

Times in s, temperatures in °C, volumes in ml; `units` is only how the answer is worded.
"""

from dataclasses import dataclass

from catalogue.bench.recipes import is_black_and_white
from catalogue.bench.rules.dilution import Dilution
from catalogue.bench.rules.figures import (
    ML_PER_US_FLUID_OUNCE,
    ML_PER_US_GALLON,
    format_time,
    parse_temperature,
    parse_volume,
    plain,
    temperature_words,
    volume_words,
)
from catalogue.bench.rules.tank import REELS, Reel, TankSize, check_volume, volume_needed
from catalogue.bench.rules.times.development import COMMON_BLACK_AND_WHITE, TemperatureRule, time_at
from catalogue.bench.rules.times.drift import drift, start_and_end
from catalogue.bench.rules.times.fixing import fix_time
from catalogue.bench.rules.times.push_pull import PushFactor, PushTable, stops_words
from catalogue.bench.sink.tonights_times import StepTime, step_time
from catalogue.bench.waiting_views import RecipeView, StepView
from catalogue.errors import InvalidInput, NotFound
from catalogue.film.film_speed import speed_text, stops_from
from catalogue.units import ML_PER_QUART, Units

SHEET_FIRST = "The maker's sheet comes first: this is for where it says nothing."


@dataclass(frozen=True)
class Answer:
    """What came out, why, and what to look out for."""

    sentence: str
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def step_of(recipe: RecipeView, position: int | None) -> StepView:
    """The step at a position, or the one that develops; raises `NotFound`."""
    if position is None:
        if recipe.developer is None:
            raise NotFound(f"{recipe.name} has no step that develops. Say which step is meant.")
        return recipe.developer
    found = next((step for step in recipe.steps if step.position == position), None)
    if found is None:
        raise NotFound(f"{recipe.name} has no step {position}: it has {len(recipe.steps)}.")
    return found


def recipe_time(
    recipe: RecipeView, position: int | None = None, *, temperature_c: float | None = None, push_stops: float = 0.0,
    rolls_done: float = 0.0, rolls_now: float = 1.0, unit: str = "°C",
) -> StepTime:  # fmt: skip
    """The time of a step, or of the developer, as `step_time` has it; raises `NotFound` and `InvalidInput`."""
    return step_time(
        step_of(recipe, position), temperature_c=temperature_c, push_stops=push_stops, rolls_done=rolls_done,
        rolls_now=rolls_now, unit=unit, black_and_white=is_black_and_white(recipe.process),
    )  # fmt: skip


def from_recipe(
    recipe: RecipeView, *, temperature_c: float | None, push_stops: float, rolls_done: float, rolls_now: float, unit: str
) -> Answer:
    """The developer's time tonight by the recipe's own tables."""
    step = step_of(recipe, None)
    found = recipe_time(
        recipe, temperature_c=temperature_c, push_stops=push_stops, rolls_done=rolls_done, rolls_now=rolls_now, unit=unit
    )
    if found.seconds is None:
        raise InvalidInput(f"{recipe.name} gives no time for {step.name}. Add the maker's time to the recipe.")
    reasons = found.reasons or ("That is the recipe's own time.",)
    unheard = () if step.use_table or not rolls_done else ("The recipe has no times by rolls done, so they change nothing here.",)
    return Answer(f"{recipe.name}, {step.name}: {format_time(found.seconds)}.", reasons, (*found.warnings, *unheard))


def mix(made: Dilution, volume_ml: float, unit: str = "ml") -> Answer:
    """The amounts that make a volume, as a cylinder can show them."""
    shown, exact = made.measured(volume_ml), made.amounts(volume_ml)
    reasons = [f"{made.text} is {made.words()}."]
    if unit == "ml" and any(abs(a - b) >= 0.05 for a, b in zip(shown.concentrates, exact.concentrates, strict=True)):
        reasons.append(f"Exactly {exact.words(unit)}, rounded to what a cylinder shows.")
    if unit != "ml":
        reasons.append(f"In millilitres: {shown.words()}.")
    return Answer(f"{volume_words(volume_ml, unit)} of {made.text}: {shown.words(unit)}.", tuple(reasons))


def mix_for_tank(
    made: Dilution, tank: TankSize, *, reels_35mm: int, reels_120: int, least_ml: float | None, volume_ml: float | None, unit: str
) -> Answer:
    """The amounts for reels in a tank: for `volume_ml` if it will do, else for the least that will.

    Raises `DoesNotFit` where reels or volume don't go in, or film would stay dry.
    """
    reels: list[Reel] = [REELS["35 mm"]] * reels_35mm + [REELS["120"]] * reels_120
    needed = volume_needed(tank, reels, made, least_ml)
    if volume_ml is not None:
        check_volume(tank, reels, volume_ml)
        if volume_ml < needed.ml - 1e-6:
            raise InvalidInput(f"{volume_words(volume_ml, unit)} is too little. {needed.explanation}")
    elif not needed.fits:
        raise InvalidInput(needed.explanation)
    answer = mix(made, needed.ml if volume_ml is None else volume_ml, unit)
    usual = "What covers a reel is a starting value (common practice, no published source): measure your own with water."
    return Answer(answer.sentence, (needed.explanation, *answer.reasons), (usual,))


def rule_from(
    k: float | None, second: tuple[float, float] | None, first: tuple[float, float], low: float, high: float
) -> TemperatureRule:
    """By two times of a sheet, each (°C, s), by k between two temperatures, or else what is common for black-and-white."""
    if k is not None and second is not None:
        raise InvalidInput("Give a coefficient or a second time of the sheet, not both.")
    if second is not None:
        return TemperatureRule.from_two_points(first, second)
    if k is not None:
        return TemperatureRule(k, min(low, high) - 0.01, max(low, high) + 0.01)
    return COMMON_BLACK_AND_WHITE


def at_another_temperature(
    seconds: float, nominal: float, actual: float, *, k: float | None, second: tuple[float, float] | None, unit: str
) -> Answer:
    """A time of the sheet for the bath as it is; `second` is another (°C, s) of the same sheet."""
    rule = rule_from(k, second, (nominal, seconds), nominal, actual)
    black_and_white = second is None and k is None
    found = time_at(seconds, nominal, actual, rule, black_and_white)
    why = (
        f"By two times of the sheet: {rule.source}."
        if second is not None
        else f"By k = {rule.coefficient:.4g} per °C: {plain(100 * (1 - rule.factor(rule.low, rule.low + 0.01) ** 100))} % "
        "shorter for each degree warmer."
        if k is not None
        else f"k = {rule.coefficient:g} per °C, from {temperature_words(rule.low, unit)} to "
        f"{temperature_words(rule.high, unit)}: it {rule.source}."
    )
    return Answer(f"{found.words(unit)}.", (why,), found.warnings)


def pushed(seconds: float | None, stops: float, *, factor: float | None, table: PushTable | None) -> Answer:
    """A developing time for stops of push or pull, by the sheet's table or by a factor."""
    if table is not None:
        found, why = table.time_for(stops), "By the sheet's own table; between its lines in equal proportions."
    elif factor is not None and seconds is not None:
        rule = PushFactor(factor)
        found, why = rule.time_for(seconds, stops), f"{factor:g} times for each stop: {rule.source}."
    else:
        raise InvalidInput("Give the normal time and a factor for one stop (usual is 1.25 to 1.5), or the sheet's table.")
    sentence, _, warning = found.words().partition(". ")
    return Answer(f"{sentence.rstrip('.')}.", (why,), (warning,) if warning else ())


def drifted(
    start: float, end: float, seconds: float, *, nominal: float, nominal_seconds: float, k: float | None, unit: str
) -> Answer:
    """What a bath amounts to that went evenly from `start` to `end` in `seconds`."""
    low, high = min(start, end, nominal), max(start, end, nominal)
    rule = rule_from(k, None, (nominal, nominal_seconds), low, high)
    found = drift(start_and_end(start, end, seconds), nominal, nominal_seconds, rule)
    why = f"k = {rule.coefficient:.4g} per °C, the bath changing evenly from {temperature_words(start, unit)} to "
    why += f"{temperature_words(end, unit)}." + (f" It {rule.source}." if k is None else "")
    return Answer(found.words(unit), (why,))


def fixed(clearing_seconds: float, times: float) -> Answer:
    """How long to fix by the time a scrap takes to clear."""
    return Answer(
        fix_time(clearing_seconds, times).words(),
        ("Twice the clearing time at the least, tabular-grain film longer: common practice, no published source.",),
        ("Renew the fixer when clearing takes twice what it took fresh.",),
    )


def speeds(film_speed: float, exposed_at: float | None) -> Answer:
    """A speed in both forms, and the stops to an index it was exposed at."""
    degrees = "Degrees are 10 × log₁₀ of the speed, and 1 (ISO 5800 and ISO 6, from memory)."
    if exposed_at is None:
        return Answer(f"{speed_text(film_speed)}.", (degrees,))
    stops = stops_from(film_speed, exposed_at)
    what = "push" if stops > 0 else "pull"
    amount = f"{stops_words(stops)}: {what} by {plain(abs(stops), 2)} stops" if stops_words(stops) != "normal" else "normal"
    return Answer(f"{speed_text(film_speed)} exposed at EI {exposed_at:.10g} is {amount}.", (degrees,))


def converted(text: str, units: Units) -> Answer:
    """A temperature or a volume in the other units; raises `InvalidInput` for what is neither."""
    bare = text.strip().casefold().replace("degrees", "").replace("celsius", "c").replace("fahrenheit", "f")
    if (bare[-1:] in ("c", "f", "°", "º") and not bare.endswith("cc")) or not bare.strip("0123456789.,° "):
        celsius = parse_temperature(text, units.temperature)
        c, f = temperature_words(celsius), temperature_words(celsius, "°F")
        came_as_f = bare.endswith("f") or (not bare.endswith("c") and units.temperature == "°F")
        return Answer(f"{f} = {c}." if came_as_f else f"{c} = {f}.", ("°F = °C × 9/5 + 32, exactly.",))
    ml = parse_volume(text, units.volume)
    given = " ".join(text.split())
    same = [
        volume_words(ml), f"{plain(ml / ML_PER_US_GALLON, 3)} gal", f"{plain(ml / ML_PER_QUART, 3)} qt",
        f"{plain(ml / ML_PER_US_FLUID_OUNCE, 2)} fl oz",
    ]  # fmt: skip
    sentence = " = ".join([given, *(each for each in same if each != given)])
    return Answer(f"{sentence}.", ("Gallon, quart and fluid ounce of the United States.",))
