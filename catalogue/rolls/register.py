"""Registering rolls as they go into their pages: number, frames, cuts and slots in one transaction, one roll or many."""

from collections.abc import Iterable
from typing import Any

from sqlmodel import Session, col, func, select

from catalogue.clock import now
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput
from catalogue.film.dates import parse_date
from catalogue.film.roll_numbers import parse_roll_number, sort_text
from catalogue.rolls.facts import DATE_FIELDS, TEXT_FIELDS
from catalogue.rolls.file import binder_row, last_page_number
from catalogue.rolls.number import claim_number, next_roll_number, number_row
from catalogue.rolls.plan import NewRoll, Prepared, prepare
from catalogue.rolls.process import ProcessInput, checked_process
from catalogue.sleeves.page_plan import FRAME_STATES
from catalogue.store.bulk import Rows
from catalogue.store.index import add_rows, forget_roll, index_rows
from catalogue.store.tables.bench import WaitingRoll
from catalogue.store.tables.rolls import (
    Binder,
    FormerNumber,
    Frame,
    IssuedNumber,
    Page,
    ProcessRecord,
    Roll,
    Strip,
    StripFrame,
    StripMove,
)

_MEASURED = ("measured_along_mm", "measured_across_mm", "measured_pitch_mm")


def dates_for(values: dict[str, str]) -> dict[str, str | None]:
    """Columns for the EDTF texts given: text, first and last day."""
    columns: dict[str, str | None] = {}
    for name, text in values.items():
        bounds = parse_date(text.strip()) if text.strip() else None
        columns[name] = bounds.text if bounds else ""
        columns[f"{name}_from"] = bounds.earliest.isoformat() if bounds and bounds.earliest else None
        columns[f"{name}_to"] = bounds.latest.isoformat() if bounds and bounds.latest else None
    return columns


def register_roll(session: Session, new: NewRoll) -> str:
    """Registers and files a roll, whole or not at all, even where the session goes on after a refusal; gives its number.

    The number of a roll that waits to be sleeved fills that roll; what is left empty stays as it was noted.
    Raises `AlreadyExists` for a number issued before, `SlotTaken`, `DoesNotFit`,
    `InvalidInput` and `NotFound` with what to do.
    """
    return register_rolls(session, [new])[0]


def register_rolls(session: Session, many: Iterable[NewRoll]) -> tuple[str, ...]:
    """Registers rolls one after another as `register_roll` does, all or none, with few statements for many; gives their numbers.

    The rows are held back and written together, but where a roll takes the next number or a page that is
    there: then those before it are written first, as they are part of the answer.
    """
    numbers: list[str] = []
    with session.begin_nested():
        batch = _Batch(session)
        for new in many:
            if new.number is None or new.page_id is not None:
                batch.write()
            numbers.append(batch.add(new))
        batch.write()
    return tuple(numbers)


def waiting_roll(session: Session, number: str) -> Roll | None:
    """The roll of this number if it was noted before and waits to be sleeved."""
    folded = parse_roll_number(number).casefold()
    return session.exec(
        select(Roll)
        .join(IssuedNumber, col(IssuedNumber.roll_id) == col(Roll.id))
        .join(WaitingRoll, col(WaitingRoll.roll_id) == col(Roll.id))
        .where(IssuedNumber.folded == folded, IssuedNumber.number == Roll.number, WaitingRoll.state != "sleeved")
    ).first()


class _Batch:
    """Rolls on their way into the store: their rows, and what was given out to them already."""

    def __init__(self, session: Session) -> None:
        self.session, self.rows, self.found = session, Rows(session), list[dict[str, Any]]()
        self.claimed: set[str] = set()
        self.last_page: dict[int, int] = {}

    def write(self) -> None:
        self.rows.write()
        if self.found:
            add_rows(self.session, self.found)
            self.found.clear()

    def add(self, new: NewRoll) -> str:
        """Adds every row of the roll and gives the number it got."""
        session = self.session
        ready = prepare(session, new)
        if not ready.plan.fits:
            raise DoesNotFit(ready.plan.explanation)
        for frame in ready.frames:
            if frame.state not in FRAME_STATES:
                raise InvalidInput(f"A frame is one of: {', '.join(FRAME_STATES)}; not {frame.state[:20]}.")
        dates: dict[str, Any] = {**dates_for({name: getattr(new, name) for name in DATE_FIELDS})}
        facts = {name: getattr(new, name) for name in _MEASURED} | {name: getattr(new, name).strip() for name in TEXT_FIELDS}
        process = checked_process(new.process) if new.process is not None else None
        number, waiting = self._number(new.number)
        if waiting is None:
            roll = self.rows.add(
                Roll, number=number, number_sort=sort_text(number), format_key=ready.film.key, created_at=now(), **facts, **dates
            )
            self.rows.add(IssuedNumber, **number_row(number, roll["id"]))
            if process is not None:
                self.rows.add(ProcessRecord, roll_id=roll["id"], **process.model_dump())
            recorded, former = process.model_dump() if process else None, tuple[str, ...]()
        else:
            roll, recorded, former = self._fill(waiting, new, {"format_key": ready.film.key, **facts, **dates}, process)
        pages = self._pages(new, ready)
        frames = self._frames(roll["id"], new, ready)
        self._strips(roll["id"], ready, frames, pages)
        self.found += index_rows(roll, frames.values(), recorded, former)
        return str(roll["number"])

    def _number(self, typed: str | None) -> tuple[str, Roll | None]:
        """A number that nobody had, or one that was noted before and its roll, which waits to be sleeved."""
        try:
            number = claim_number(self.session, typed) if typed else next_roll_number(self.session)
        except AlreadyExists:
            waiting = waiting_roll(self.session, typed or "")
            if waiting is None:
                raise
            return waiting.number, waiting
        if number.casefold() in self.claimed:
            raise AlreadyExists(f"Roll number {number} was issued before. Two of the rolls to register have it.")
        self.claimed.add(number.casefold())
        return number, None

    def _fill(
        self, roll: Roll, new: NewRoll, facts: dict[str, Any], process: ProcessInput | None
    ) -> tuple[dict[str, Any], dict[str, Any] | None, tuple[str, ...]]:
        """Fills a roll noted before with what was typed; gives its columns, its process record and its former numbers."""
        session, key = self.session, roll.id or 0
        for name, value in facts.items():
            if value and (name not in DATE_FIELDS or getattr(new, name).strip()):
                setattr(roll, name, value)
        session.get_one(WaitingRoll, key).state = "sleeved"
        kept = session.get(ProcessRecord, key)
        if process is not None:
            # As typed, and where nothing was typed as it was recorded at the sink.
            typed = {n: v for n, v in process.model_dump().items() if kept is None or v not in ("", None)}
            before = kept.model_dump(exclude={"roll_id"}) if kept else {}
            kept = session.merge(ProcessRecord(roll_id=key, **{**before, **typed}))
        session.flush()
        forget_roll(session, key)
        former = tuple(session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == key)))
        return roll.model_dump(), kept.model_dump() if kept else None, former

    def _pages(self, new: NewRoll, ready: Prepared) -> dict[int, int]:
        """The page of each ordinal in the plan: the one that was named, and new ones behind the last of the binder."""
        session = self.session
        named = binder_row(session, new.binder) if new.binder not in (None, "") else None
        if ready.page is not None:
            if named is not None and named.id != ready.page.binder_id:
                raise InvalidInput(
                    f"Page {ready.page.number} lies in {ready.page.binder}, not in {new.binder}. Name one of them."
                )
            binder = ready.page.binder_id
        else:
            binder = (named.id or 0) if named else self._last_binder()
        pages = {1: ready.page.id} if ready.page else {}
        for ordinal in sorted({s.page for s in ready.plan.strips} - set(pages)):
            if binder not in self.last_page:
                self.last_page[binder] = last_page_number(session, binder)
            self.last_page[binder] += 1
            shape = {"layout_key": ready.layout.key, "ring_side": ready.layout.ring_side}
            pages[ordinal] = self.rows.add(Page, binder_id=binder, number=self.last_page[binder], **shape)["id"]
        return pages

    def _last_binder(self) -> int:
        """The newest binder with a page in it, those of this batch too; else the last on the shelf."""
        session = self.session
        filled = session.exec(select(func.max(Page.binder_id))).one()
        on_the_shelf = select(Binder.id).order_by(col(Binder.position).desc()).limit(1)
        found = max({filled or 0, *self.last_page}) or session.exec(on_the_shelf).first()
        if found is None:
            raise InvalidInput("There is no binder yet. Add one under Binders, for example Binder 1.")
        return int(found)

    def _frames(self, roll_id: int, new: NewRoll, ready: Prepared) -> dict[str, dict[str, Any]]:
        return {
            frame.label: self.rows.add(
                Frame, roll_id=roll_id, label=frame.label, position=position, state=frame.state,
                start_mm=frame.start_mm if new.frame_starts_mm else None,
                caption=new.captions.get(frame.label, "").strip()[:500],
            )
            for position, frame in enumerate(ready.frames, 1)
        }  # fmt: skip

    def _strips(self, roll_id: int, ready: Prepared, frames: dict[str, dict[str, Any]], pages: dict[int, int]) -> None:
        starts = {f.label: f.start_mm for f in ready.frames}
        planned = ready.plan.strips
        for position, plan in enumerate(planned, 1):
            place = {"page_id": pages[plan.page], "slot": plan.slot}
            strip = self.rows.add(Strip, roll_id=roll_id, position=position, length_mm=plan.length_mm, **place)["id"]
            tail_here = position > 1 and planned[position - 2].frames[-1] == plan.frames[0]
            head_here = position < len(planned) and planned[position].frames[0] == plan.frames[-1]
            # The strip begins `lead_mm` before its first picture, or in the middle of a picture cut in two.
            origin = starts[plan.frames[0]] - plan.lead_mm + (ready.film.frame_along_mm / 2 if tail_here else 0)
            for at, label in enumerate(plan.frames, 1):
                part = "tail" if tail_here and at == 1 else "head" if head_here and at == len(plan.frames) else "whole"
                if part != "whole":
                    frames[label]["state"] = "cut in two"
                start = max(0.0, round(starts[label] - origin, 3))
                self.rows.add(StripFrame, strip_id=strip, frame_id=frames[label]["id"], position=at, start_mm=start, part=part)
            self.rows.add(StripMove, strip_id=strip, at=now(), what="sleeved", to_page_id=place["page_id"], to_slot=place["slot"])
