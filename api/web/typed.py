"""What was typed into a form: understood, or refused with a sentence."""

from collections.abc import Callable
from datetime import timedelta
from math import isfinite
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from catalogue.errors import InvalidInput
from catalogue.scans.log.tracks import MAX_OFFSET

Given = TypeVar("Given", bound=BaseModel)


def refusal(problem: ValidationError, called: Callable[[str], str] = str) -> str:
    """A sentence for the first value that a model refused; `called` says what the form calls a field of the model."""
    first = problem.errors()[0]
    words = " ".join(called(str(part)) for part in first["loc"]).replace("_", " ").capitalize()
    return f"{words}: {first['msg']}." if words else f"{first['msg']}."


def validated(model: type[Given], values: dict[str, Any]) -> Given:
    """A form's values as a model; raises `InvalidInput` with one sentence."""
    try:
        return model.model_validate(values)
    except ValidationError as problem:
        raise InvalidInput(refusal(problem)) from problem


def inside(back: str, otherwise: str = "") -> str:
    """An address of this service to go back to; one that leads anywhere else is left aside."""
    return back if back.startswith("/") and not back.startswith("//") and "\\" not in back else otherwise


def is_whole(text: str) -> bool:
    """Whether the text is plain figures; `isdigit` alone also takes ² and the like, which `int` refuses."""
    return text.isascii() and text.isdigit() and len(text) <= 18


def whole(text: str, what: str) -> int | None:
    """A whole number, None where nothing was typed; raises `InvalidInput`."""
    text = text.strip()
    if not text:
        return None
    if not is_whole(text):
        raise InvalidInput(f"“{text[:20]}” is no {what}. Write a whole number, for example 1.")
    return int(text)


def measured(text: str, what: str) -> float | None:
    """A number with point or comma, None where nothing was typed; raises `InvalidInput`."""
    if not text.strip():
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InvalidInput(f"“{text[:20]}” is not a number. Write the {what} in figures.")
    return value


def seconds_off(seconds: float) -> timedelta:
    """What a clock is off by; raises `InvalidInput` for what is no number or longer than `MAX_OFFSET`."""
    if not abs(seconds) <= MAX_OFFSET.total_seconds():  # nan too
        raise InvalidInput(
            f"A clock can't be {seconds:g} s behind. Give up to {MAX_OFFSET.days} days in seconds, below 0 if fast."
        )
    return timedelta(seconds=seconds)
