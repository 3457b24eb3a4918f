"""Issuing roll numbers: the next one, gaps with a reason, renumbering; none is ever used twice."""

from datetime import date

from sqlmodel import Session, select

from catalogue.clock import now
from catalogue.errors import AlreadyExists, InvalidInput
from catalogue.film.roll_numbers import parse_roll_number, sort_text
from catalogue.rolls.roll import roll_view
from catalogue.rolls.rows import roll_row
from catalogue.settings import roll_pattern
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import FormerNumber, NumberGap, Roll
from catalogue.views import RollView


def taken_numbers(session: Session) -> set[str]:
    """Every number ever issued: of rolls, former ones, and gaps."""
    return {
        *session.exec(select(Roll.number)),
        *session.exec(select(FormerNumber.number)),
        *session.exec(select(NumberGap.number)),
    }


def next_roll_number(session: Session, year: int | None = None) -> str:
    """The number to issue next by the person's pattern."""
    return roll_pattern(session).issue(year or date.today().year, taken_numbers(session))


def next_roll_numbers(session: Session, count: int, year: int | None = None) -> tuple[str, ...]:
    """The next so many numbers, for printing ahead; none of them is issued by that."""
    if not 1 <= count <= 500:
        raise InvalidInput(f"{count} numbers can't be printed ahead at once. Ask for 1 to 500.")
    pattern, taken = roll_pattern(session), taken_numbers(session)
    found: list[str] = []
    for _ in range(count):
        found.append(pattern.issue(year or date.today().year, taken))
        taken.add(found[-1])
    return tuple(found)


def claim_number(session: Session, text: str) -> str:
    """The number in canonical form if nobody had it; raises `AlreadyExists` with the next one."""
    number = parse_roll_number(text)
    if number.casefold() in {taken.casefold() for taken in taken_numbers(session)}:
        raise AlreadyExists(f"Roll number {number} was issued before. The next free one is {next_roll_number(session)}.")
    return number


def renumber_roll(session: Session, number: str, new_number: str) -> RollView:
    """Gives the roll another number; the former one stays findable and is never issued again."""
    roll = roll_row(session, number)
    new = claim_number(session, new_number)
    session.add(FormerNumber(roll_id=roll.id or 0, number=roll.number, changed_at=now()))
    roll.number, roll.number_sort = new, sort_text(new)
    session.flush()
    index_roll(session, roll.id or 0)
    return roll_view(session, new)


def record_gap(session: Session, number: str, reason: str) -> None:
    """Keeps why a number has no roll."""
    claimed = claim_number(session, number)
    if not reason.strip():
        raise InvalidInput("Say why the number has no roll: never used, blank, destroyed, away or unknown.")
    session.add(NumberGap(number=claimed, reason=" ".join(reason.split())))
    session.flush()


def gaps(session: Session) -> tuple[tuple[str, str], ...]:
    """Numbers without a roll, with their reasons."""
    rows = session.exec(select(NumberGap)).all()
    return tuple(sorted(((g.number, g.reason) for g in rows), key=lambda pair: sort_text(pair[0])))
