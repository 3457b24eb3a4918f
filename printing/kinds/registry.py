"""The kinds of print there are. Whoever adds one adds its file and its line here; every door to it follows."""

from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

from catalogue.errors import InvalidInput
from printing.kinds.asked import Asked

if TYPE_CHECKING:
    from sqlmodel import Session

_FILES = (
    "sheets.contact_sheet",
    "sheets.page_label",
    "sheets.strip_list",
    "sheets.cut_card",
    "sheets.print_card",
    "sheets.tank_card",
    "labels.roll_label",
    "labels.cassette_numbers",
    "labels.label_test",
    "labels.bottle_tag",
    "labels.spine",
    "labels.out_slips",
    "books.book",
    "books.finding_aid",
)
"""In the order in which they are offered."""


def kinds_in(module: str) -> Iterator[type[Asked]]:
    """The kinds that a module declares: its classes with a key of their own."""
    for thing in vars(import_module(module)).values():
        if isinstance(thing, type) and issubclass(thing, Asked) and thing.__module__ == module and "key" in vars(thing):
            yield thing


KINDS: dict[str, type[Asked]] = {kind.key: kind for name in _FILES for kind in kinds_in(f"printing.kinds.{name}")}
"""By key."""


def find_kind(key: str) -> type[Asked]:
    """The kind of this key; raises `InvalidInput` with those known."""
    if key not in KINDS:
        raise InvalidInput(f"“{key[:30]}” is nothing that can be printed. Choose one of: {', '.join(KINDS)}.")
    return KINDS[key]


def settled(session: "Session", key: str, given: Mapping[str, Any]) -> Asked:
    """A thing of this kind, its values checked; raises `InvalidInput` or `NotFound` with a sentence."""
    return find_kind(key).understood(given).settled(session)
