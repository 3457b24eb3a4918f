"""Tags for bottles: one by what is typed, one by what the shelf knows of a bottle."""

from collections.abc import Mapping
from dataclasses import replace
from math import ceil, floor
from typing import ClassVar, Self

from pydantic import Field

from catalogue.errors import DoesNotFit, NotFound
from printing.kinds.asked import LARGEST_KEY, Door, Now, OnLabels, PrintedPdf, Session, label_sheet_field


class _TagAsked(OnLabels):
    """A tag on a label sheet of large labels."""

    stock: str = label_sheet_field("a4-2x7")


class BottleTagAsked(_TagAsked):
    """A tag by what is typed; dates in EDTF or "" for a line to write on, and a box to tick for each of so many rolls."""

    key: ClassVar[str] = "bottle-tag"
    called: ClassVar[str] = "tag for a bottle"
    titled: ClassVar[str] = "Tag for {name}"
    filed: ClassVar[str] = "bottle tag {name}"
    said: ClassVar[str] = "A tag for a bottle: what is in it, its dates in EDTF, and a box to tick for each of so many rolls."
    doors: ClassVar[tuple[Door, ...]] = (Door("/bottle-tag.pdf", "bottle_tag"),)
    name: str = Field(max_length=80, title="Name on the bottle", description="What the bottle is called.")
    what: str = Field(default="", max_length=200, title="What is in it", description="for example 1+9, 600 ml")
    mixed: str = Field(
        default="", max_length=60, title="Mixed on", description="for example 2031-05-14; empty leaves a line to write on"
    )
    opened: str = Field(default="", max_length=60, title="Opened on", description="A date; empty leaves a line to write on.")
    discard_after: str = Field(
        default="", max_length=60, title="Discard after", description="A date; empty leaves a line to write on."
    )
    rolls: int = Field(default=0, ge=0, le=400, title="Boxes to tick, one a roll")

    def settled(self, session: Session) -> Self:
        """The same; raises `InvalidInput` for a date that can't be understood."""
        from catalogue.film.dates import parse_date

        for text in (self.mixed, self.opened, self.discard_after):
            if text:
                parse_date(text)
        return super().settled(session)

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The tag as typed."""
        from catalogue.settings import archive_name
        from printing.labels.documents import bottle_tags_pdf
        from printing.labels.slips import BottleTag

        dates = self.mixed, self.opened, self.discard_after
        tag = BottleTag(self.name, self.what, archive_name(session), now.on, *dates, self.rolls)
        return bottle_tags_pdf([tag], self.use(session))


class TagOfBottleAsked(_TagAsked):
    """The tag of a bottle on the shelf, with a code that leads to it."""

    key: ClassVar[str] = "tag-of-bottle"
    called: ClassVar[str] = "tag of a bottle on the shelf"
    titled: ClassVar[str] = "Tag of {bottle}"
    filed: ClassVar[str] = "bottle {bottle_id}"
    said: ClassVar[str] = "The tag of a bottle on the shelf: what is in it, its dates, and a box a roll, those used up ticked."
    doors: ClassVar[tuple[Door, ...]] = (Door("/bottles/{bottle_id}/tag.pdf", "tag"),)
    bottle_id: int = Field(le=LARGEST_KEY, title="Bottle, by the number in its address")

    def names(self, session: Session) -> Mapping[str, object]:
        """With the bottle's name."""
        from catalogue.bench.bottles.shelf import bottle_view

        return {**super().names(session), "bottle": bottle_view(session, self.bottle_id).name}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """What is in it now; part of a roll is ticked as one. A small tag needs the room of the code for its boxes."""
        from catalogue.bench.bottles.entry_words import ml_words
        from catalogue.bench.bottles.shelf import bottle_view
        from catalogue.settings import archive_name, get_units
        from printing.labels.documents import bottle_tags_pdf
        from printing.labels.slips import MOST_ROLLS, BottleTag

        view = bottle_view(session, self.bottle_id)
        bath = view.bath
        if bath is None:
            raise NotFound(f"{view.name} is empty, so its tag would say nothing. Fill it first.")
        facts, boxes = bath.facts, floor(bath.facts.capacity_units or 0)
        boxes = boxes if boxes <= MOST_ROLLS else 0
        what = [f"in {view.name}", ml_words(facts.mixed_ml, get_units(session)), "use once" if facts.one_shot else ""]
        tag = BottleTag(
            facts.chemical, ", ".join(text for text in what if text), archive_name(session), now.on, facts.mixed_on.isoformat(),
            bath.open_since.isoformat() if bath.open_since else "", bath.discard_on.isoformat() if bath.discard_on else "",
            boxes, min(boxes, ceil(bath.used_units)), f"{now.base}bench/bottles/{self.bottle_id}",
        )  # fmt: skip
        use = self.use(session)
        try:
            return bottle_tags_pdf([tag], use)
        except DoesNotFit:
            return bottle_tags_pdf([replace(tag, link="")], use)
