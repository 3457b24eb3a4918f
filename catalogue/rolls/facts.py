"""The facts of a roll that are typed and changed as words, declared once for its models, its rows and its form."""

from dataclasses import dataclass


@dataclass(frozen=True)
class RollFact:
    """A column of a roll by its name; its greatest length in characters; a date is EDTF, with its first and last day."""

    name: str
    length: int
    is_date: bool = False


ROLL_FACTS = (
    RollFact("stock", 120),
    RollFact("camera", 120),
    RollFact("lens", 120),
    RollFact("exposed", 60, is_date=True),
    RollFact("processed", 60, is_date=True),
    RollFact("sleeved", 60, is_date=True),
    RollFact("subject", 500),
    RollFact("place", 500),
    RollFact("keywords", 500),
    RollFact("notes", 10_000),
)
"""In the order in which they are told."""
DATE_FIELDS = tuple(fact.name for fact in ROLL_FACTS if fact.is_date)
TEXT_FIELDS = tuple(fact.name for fact in ROLL_FACTS if not fact.is_date)
LENGTHS = {fact.name: fact.length for fact in ROLL_FACTS}
