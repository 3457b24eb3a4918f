"""The ledger itself: entries are only ever added, and an undone or corrected one stays and is marked."""

from dataclasses import dataclass, replace
from datetime import date

from catalogue.bench.rules.baths.bottle import fold
from catalogue.bench.rules.baths.entries import AnyEntry, BottleSize, Corrected, Deed, Ledger, Undone
from catalogue.bench.rules.baths.state import BottleState
from catalogue.errors import AlreadyExists, InvalidInput, NotFound, StripleafError


@dataclass(frozen=True)
class Marked:
    """An entry as the ledger shows it; `undone_by` and `corrected_by` are numbers of later entries, or None."""

    entry: AnyEntry
    undone_by: int | None = None
    corrected_by: int | None = None

    @property
    def counts(self) -> bool:
        """Whether it counts, as it was written or as corrected."""
        return self.undone_by is None


def history(ledger: Ledger) -> tuple[Marked, ...]:
    """Every entry in the order written, marked where a later one undid or corrected it."""
    undone: dict[int, int] = {}
    corrected: dict[int, int] = {}
    for entry in reversed(ledger):  # backwards: what undoes an entry may have been undone itself
        if entry.number in undone:
            continue
        if isinstance(entry, Undone):
            undone[entry.of] = entry.number
        elif isinstance(entry, Corrected):
            corrected.setdefault(entry.of, entry.number)
    return tuple(Marked(entry, undone.get(entry.number), corrected.get(entry.number)) for entry in ledger)


def standing(ledger: Ledger) -> tuple[Deed, ...]:
    """The deeds that count, in their own places and with their own numbers, corrected where they were."""
    found: list[Deed] = []
    for marked in history(ledger):
        entry = marked.entry
        if isinstance(entry, Undone | Corrected) or marked.undone_by is not None:
            continue
        if marked.corrected_by is not None:
            correction = ledger[marked.corrected_by - 1]
            assert isinstance(correction, Corrected)
            entry = correction.instead
        found.append(replace(entry, number=marked.entry.number))
    return tuple(found)


def state_of(bottle: BottleSize, ledger: Ledger) -> BottleState:
    """The bottle as its ledger has it; raises `InvalidInput` where the numbers aren't 1, 2, 3 …"""
    numbers = [entry.number for entry in ledger]
    if numbers != list(range(1, len(ledger) + 1)):
        raise InvalidInput(f"The entries of {bottle.name} should be numbered 1 to {len(ledger)} in order. Restore the ledger.")
    return fold(bottle, standing(ledger))


def append(bottle: BottleSize, ledger: Ledger, entry: AnyEntry, today: date) -> Ledger:
    """The ledger with one more entry, which gets the next number.

    Refuses what lies in the future and whatever the bottle can't have gone
    through: `InvalidInput`, `DoesNotFit`, `AlreadyExists` or `NotFound`, and
    the ledger handed in is still the whole truth.
    """
    number = len(ledger) + 1
    entry = replace(entry, number=number)
    for deed in (entry, entry.instead) if isinstance(entry, Corrected) else (entry,):
        if deed.on > today:
            raise InvalidInput(f"{deed.on} is in the future; today is {today}. Write down what was done when it's done.")
    longer = (*ledger, entry)
    if not isinstance(entry, Undone | Corrected):
        state_of(bottle, longer)
        return longer
    _check_target(ledger, entry)
    try:
        state_of(bottle, longer)
    except StripleafError as problem:
        verb = "undone" if isinstance(entry, Undone) else "corrected so"
        raise InvalidInput(f"Entry {entry.of} can't be {verb}, for later ones rest on it. {problem}") from problem
    return longer


def _check_target(ledger: Ledger, entry: Undone | Corrected) -> None:
    if not 1 <= entry.of <= len(ledger):
        raise NotFound(f"There is no entry {entry.of}; the ledger has entries 1 to {len(ledger)}.")
    marked = history(ledger)[entry.of - 1]
    if marked.undone_by is not None:
        raise AlreadyExists(f"Entry {entry.of} is undone already, by entry {marked.undone_by}. Undo that to bring it back.")
    if isinstance(entry, Corrected) and type(entry.instead) is not type(marked.entry):
        raise InvalidInput(
            f"Entry {entry.of} can only be corrected to an entry of its own kind. Undo it and write a new one instead."
        )


def undo_last(bottle: BottleSize, ledger: Ledger, on: date, today: date, word: str = "") -> Ledger:
    """Undoes the last deed that counts; raises `NotFound` where there is none."""
    deeds = standing(ledger)
    if not deeds:
        raise NotFound(f"Nothing is left to undo in the ledger of {bottle.name}.")
    return append(bottle, ledger, Undone(on=on, of=deeds[-1].number, word=word), today)
