"""What the page of a frame shows of its choice and its prints, and how the forms for them are read."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from api.web.typed import measured
from catalogue.darkroom.print_records import (
    MOST_MARKS,
    MarkInput,
    PrintInput,
    known_in_darkroom,
    length_words,
    prints_of_frame,
    size_words,
)
from catalogue.darkroom.print_views import PrintMarkView, PrintRecordView
from catalogue.errors import InvalidInput
from catalogue.film.crops import Crop, turned_back, turned_crop
from catalogue.film.enlargement import Step, steps_of, time_words
from catalogue.rolls.choices import choice_of_frame, turns_of_frame
from catalogue.settings import get_units
from catalogue.units import Units
from catalogue.views import FrameChoice, FrameView

EDGES = ("left", "top", "right", "bottom")
TEXTS = {
    "enlarger": "Enlarger", "lens": "Enlarging lens", "aperture": "Aperture", "paper": "Paper",
    "grade": "Grade or filtration", "developer": "Paper developer", "printed": "Date of the print", "notes": "Notes",
}  # fmt: skip


@dataclass(frozen=True)
class ShownPrint:
    """A print as its page has it: its view, lengths and time in words, and its steps by halves and thirds."""

    view: PrintRecordView
    facts: tuple[tuple[str, str], ...]
    marks: tuple[str, ...]
    steps: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    """Title, and for each step the stops and the time, in words."""


def percent(part: float) -> str:
    """A part of the picture in per cent, to a tenth."""
    return f"{round(100 * part, 1):g}"


def edges_on_screen(crop: Crop | None, turns: int) -> dict[str, str]:
    """The four edges in per cent as the picture is shown; empty where no crop is marked."""
    if crop is None:
        return dict.fromkeys(EDGES, "")
    return dict(zip(EDGES, map(percent, turned_crop(crop, turns)), strict=True))


def choice_from(form: Mapping[str, str], session: Session, frame_id: int) -> FrameChoice:
    """The choice as typed, its crop turned back to the film; edges left as shown keep the crop exactly as it was."""
    turns = turns_of_frame(session, frame_id)
    before = choice_of_frame(session, frame_id).crop
    typed = {edge: form.get(edge, "").strip() for edge in EDGES}
    selected = form.get("selected", "") == "yes"
    if form.get("do") == "no crop" or not any(typed.values()):
        return FrameChoice(selected)
    if typed == edges_on_screen(before, turns):
        return FrameChoice(selected, before)
    missing = [edge for edge in EDGES if not typed[edge]]
    if missing:
        raise InvalidInput(f"A crop needs all four edges; {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} empty.")
    left, top, right, bottom = ((measured(typed[edge], f"{edge} edge") or 0.0) / 100 for edge in EDGES)
    if not (0 <= left < right <= 1 and 0 <= top < bottom <= 1):
        raise InvalidInput(
            f"The crop from {typed['left']} to {typed['right']} % across and from {typed['top']} to {typed['bottom']} % down "
            "isn't one: give 0 to 100 %, the left edge before the right one and the top edge before the bottom one."
        )
    return FrameChoice(selected, turned_back((left, top, right, bottom), turns))


def print_from(form: Mapping[str, str], units: Units) -> PrintInput:
    """A print as typed; lengths in the person's unit, marks in rows numbered from 1, their areas in per cent."""

    def length(name: str, what: str) -> float | None:
        value = measured(form.get(name, ""), what)
        return None if value is None else units.mm(value)

    width, height = length("width", "width"), length("height", "height")
    if (width is None) != (height is None):
        raise InvalidInput("The size of a print needs both its width and its height.")
    rows = [mark for n in range(1, MOST_MARKS + 1) if (mark := _mark(form, n)) is not None]
    return PrintInput(
        **{name: form.get(name, "").strip() for name in TEXTS},
        height_mm=length("column", "height of the enlarger"),
        base_time_s=measured(form.get("base_time", ""), "base time"),
        size_mm=(width, height) if width is not None and height is not None else None,
        marks=rows,
    )


def _mark(form: Mapping[str, str], n: int) -> MarkInput | None:
    kind, where, change, area = (form.get(f"{name}:{n}", "").strip() for name in ("kind", "where", "change", "area"))
    if not (where or change or area or kind):
        return None
    if kind not in ("burn", "dodge"):
        raise InvalidInput(f"Say whether row {n}, “{(where or change or area)[:40]}”, is a burn or a dodge.")
    numbers: list[float] = []
    if area:
        parts = area.replace("%", " ").replace(";", " ").split()
        numbers = [(measured(part, "area") or 0.0) / 100 for part in parts]
        if len(numbers) != 4:
            raise InvalidInput(
                f"The area “{area[:40]}” in row {n} isn't four numbers. Write left, top, width and height in per cent, "
                "for example 0 0 100 33."
            )
    whole = (numbers[0], numbers[1], numbers[2], numbers[3]) if numbers else None
    return MarkInput(kind="burn" if kind == "burn" else "dodge", where=where, change=change, area=whole)


def records_of(session: Session, frame: FrameView, typed: Mapping[str, str]) -> dict[str, Any]:
    """The values of the frame's page about its choice and its prints; what was typed into a refused form is kept."""
    units, turns = get_units(session), turns_of_frame(session, frame.id)
    choice = choice_of_frame(session, frame.id)
    edges = edges_on_screen(choice.crop, turns)
    refused = typed.get("form") == "choice"
    prints = prints_of_frame(session, frame.roll, frame.label)
    last = prints[0] if prints else None
    offered = {n: getattr(last, n) for n in ("enlarger", "lens", "paper", "developer")} if last else {}
    return {
        "selected": typed.get("selected") == "yes" if refused else choice.selected,
        "edges": {edge: typed.get(edge, "") for edge in EDGES} if refused else edges,
        "overlay": overlay(turned_crop(choice.crop, turns)) if choice.crop else "",
        "prints": [shown(view, units) for view in prints],
        "print_texts": TEXTS,
        "print_typed": dict(typed) if typed.get("form") == "print" else offered,
        "print_refused": typed.get("form") == "print",
        "mark_rows": range(1, MOST_MARKS + 1),
        "known_print": known_in_darkroom(session),
        "length_unit": units.length,
    }


def overlay(crop: Crop) -> str:
    """The path that darkens what the crop leaves out, in hundredths of the picture."""
    left, top, right, bottom = (f"{100 * part:.2f}" for part in crop)
    return f"M0 0H100V100H0ZM{left} {top}V{bottom}H{right}V{top}Z"


def shown(view: PrintRecordView, units: Units) -> ShownPrint:
    """A print in words, in the person's units."""
    facts = (
        ("size", size_words(view.size_mm, units) if view.size_mm else ""),
        ("enlarger", view.enlarger),
        ("lens", view.lens),
        ("height", length_words(view.height_mm, units) if view.height_mm is not None else ""),
        ("aperture", view.aperture),
        ("paper", view.paper),
        ("grade or filtration", view.grade),
        ("base time", f"{view.base_time_s:g} s" if view.base_time_s is not None else ""),
        ("paper developer", view.developer),
        ("notes", view.notes),
    )
    base = view.base_time_s
    steps = tuple(
        (f"by {name} of a stop", tuple((step.words, step_words(step)) for step in steps_of(base, division)))
        for name, division in (("halves", 2), ("thirds", 3))
        if base is not None and 0 < 2 * base <= 86_400
    )
    return ShownPrint(view, tuple(f for f in facts if f[1]), tuple(_mark_words(m) for m in view.marks), steps)


def _mark_words(mark: PrintMarkView) -> str:
    sign = "burn +" if mark.kind == "burn" else "dodge −"
    area = ""
    if mark.area:
        x, y, wide, high = map(percent, mark.area)
        area = f"{wide} × {high} % from {x} %, {y} %"
    return ", ".join(part for part in (f"{sign} {mark.where}".strip(), mark.change, area) if part)


def step_words(step: Step) -> str:
    """A step's whole time and what it adds or holds back."""
    more = "" if not step.stops else f" ({'+' if step.change_s > 0 else '−'}{time_words(abs(step.change_s))})"
    return time_words(step.seconds) + more
