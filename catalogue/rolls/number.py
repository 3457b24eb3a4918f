"""Issuing roll numbers: the next one, gaps with a reason, renumbering; none is ever used twice."""

from datetime import date
from typing import Any

from sqlmodel import Session, col, delete, select

from catalogue.clock import now
from catalogue.errors import AlreadyExists, InvalidInput
from catalogue.film.roll_numbers import RollPattern, parse_roll_number, sort_text, squeezed, tail
from catalogue.rolls.roll import roll_view
from catalogue.rolls.rows import roll_row
from catalogue.settings import roll_pattern
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import FormerNumber, IssuedNumber, NumberGap
from catalogue.views import RollView

LAST = "\U0010ffff"  # behind every text that goes on from the same beginning


def _next_running(session: Session, pattern: RollPattern, year: int) -> int:
    head = sort_text(pattern.head(year))
    # Sorted as numbers are, so the first that follows the pattern is the highest.
    query = select(IssuedNumber.number).where(IssuedNumber.sort >= head, IssuedNumber.sort < head + LAST)
    for number in session.exec(query.order_by(col(IssuedNumber.sort).desc())).yield_per(100):
        if (running := pattern.running(year, number)) is not None:
            return running + 1
    return 1


def next_roll_number(session: Session, year: int | None = None) -> str:
    """The number to issue next by the person's pattern: the one after the highest (of the year, if the pattern has it)."""
    return next_roll_numbers(session, 1, year)[0]


def next_roll_numbers(session: Session, count: int, year: int | None = None) -> tuple[str, ...]:
    """The next so many numbers, for printing ahead; none of them is issued by that."""
    if not 1 <= count <= 500:
        raise InvalidInput(f"{count} numbers can't be printed ahead at once. Ask for 1 to 500.")
    pattern, year = roll_pattern(session), year or date.today().year
    first = _next_running(session, pattern, year)
    return tuple(pattern.write(year, first + n) for n in range(count))


def claim_number(session: Session, text: str) -> str:
    """The number in canonical form if nobody had it; raises `AlreadyExists` with the next one."""
    number = parse_roll_number(text)
    if session.get(IssuedNumber, number.casefold()) is not None:
        raise AlreadyExists(f"Roll number {number} was issued before. The next free one is {next_roll_number(session)}.")
    return number


def number_row(number: str, roll_id: int | None) -> dict[str, Any]:
    """The row that keeps a number from being issued again; a gap's has no roll."""
    return {
        "folded": number.casefold(), "number": number, "sort": sort_text(number), "squeezed": squeezed(number),
        "tail": tail(number), "roll_id": roll_id,
    }  # fmt: skip


def issue_number(session: Session, number: str, roll_id: int | None) -> None:
    """Keeps that a claimed number belongs to a roll, or to none: a gap."""
    session.add(IssuedNumber(**number_row(number, roll_id)))
    session.flush()


def give_back_numbers(session: Session, roll_id: int) -> None:
    """Frees the numbers of a roll that goes, former ones too; the caller says at once why they have no roll."""
    session.exec(delete(IssuedNumber).where(col(IssuedNumber.roll_id) == roll_id))


def renumber_roll(session: Session, number: str, new_number: str) -> RollView:
    """Gives the roll another number; the former one stays findable and is never issued again."""
    roll = roll_row(session, number)
    new = claim_number(session, new_number)
    session.add(FormerNumber(roll_id=roll.id or 0, number=roll.number, changed_at=now()))
    roll.number, roll.number_sort = new, sort_text(new)
    issue_number(session, new, roll.id)
    index_roll(session, roll.id or 0)
    return roll_view(session, new)


def record_gap(session: Session, number: str, reason: str) -> None:
    """Keeps why a number has no roll."""
    claimed = claim_number(session, number)
    if not reason.strip():
        raise InvalidInput("Say why the number has no roll: never used, blank, destroyed, away or unknown.")
    session.add(NumberGap(number=claimed, reason=" ".join(reason.split())))
    issue_number(session, claimed, None)


def gaps(session: Session) -> tuple[tuple[str, str], ...]:
    """Numbers without a roll, with their reasons."""
    rows = session.exec(select(NumberGap)).all()
    return tuple(sorted(((g.number, g.reason) for g in rows), key=lambda pair: sort_text(pair[0])))
