"""Putting a strip into a slot: what fits, and where along the slot it comes to lie."""

from collections.abc import Sequence

from catalogue.errors import DoesNotFit, SlotTaken
from catalogue.sleeves.geometry import TOLERANCE_MM

BETWEEN_STRIPS_MM = 2.0
"""Kept free between two strips in one slot, so that neither slides over the other."""


def place_in_slot(slot_length_mm: float, lying: Sequence[tuple[float, float]], length_mm: float, slot: int = 0) -> float:
    """The offset at which a strip comes to lie, first gap that takes it.

    Raises `DoesNotFit` for a strip longer than the slot, `SlotTaken` where too
    little is free.
    """
    named = f"slot {slot}" if slot else "the slot"
    if length_mm > slot_length_mm + TOLERANCE_MM:
        raise DoesNotFit(
            f"The strip is {length_mm:g} mm long and {named} takes {slot_length_mm:g} mm. Cut it shorter or choose another page."
        )
    at = 0.0
    for offset, length in sorted(lying):
        if offset - BETWEEN_STRIPS_MM - at >= length_mm - TOLERANCE_MM:
            return at
        at = max(at, offset + length + BETWEEN_STRIPS_MM)
    if slot_length_mm - at >= length_mm - TOLERANCE_MM:
        return at
    raise SlotTaken(
        f"{named.capitalize()} holds film already: {max(0.0, slot_length_mm - at):g} mm are free and the strip is "
        f"{length_mm:g} mm long. Choose another slot."
    )
