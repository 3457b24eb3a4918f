"""A page as it looks from behind: turned over like a leaf in its binder, about its upright edge."""

from dataclasses import replace

from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PagePlan


def seen_from_behind(plan: PagePlan) -> PagePlan:
    """The plan with left and right changed, pictures too; heights, slots and places from the ring side stay.

    Laid over the page turned over, it agrees everywhere. Film whose base faces the front shows its emulsion here.
    Seen from behind twice, a plan is itself again.
    """
    width = plan.size.width

    def over(rect: Rect) -> Rect:
        return Rect(width - rect.right, rect.y, rect.width, rect.height)

    return replace(
        plan,
        ring_side="left" if plan.ring_side == "right" else "right",
        ring_holes=tuple((width - x, y, across) for x, y, across in plan.ring_holes),
        index_area=over(plan.index_area),
        slots=tuple(replace(slot, rect=over(slot.rect)) for slot in plan.slots),
        strips=tuple(replace(strip, rect=over(strip.rect)) for strip in plan.strips),
        frames=tuple(replace(frame, rect=over(frame.rect), mirrored=not frame.mirrored) for frame in plan.frames),
    )
