"""What is marked on a proof: which frames are selects, and their crops."""

from collections.abc import Mapping, Sequence

from sqlmodel import Session, col, select

from catalogue.film.crops import checked_crop, turns_to_stand
from catalogue.film.formats import FilmFormat
from catalogue.rolls.roll import roll_view
from catalogue.rolls.rows import film_of, frame_row, page_row, roll_row
from catalogue.rolls.scan_rows import ScanPair, area_of, scans_of
from catalogue.store.tables.darkroom import ChoiceRow
from catalogue.store.tables.rolls import Frame, Roll, Strip, StripFrame
from catalogue.views import FrameChoice, FrameView

_NEARLY_SQUARE = 1.02
"""Sides that differ by less don't tell lying from standing (our rule)."""


def choose_frame(session: Session, roll: str, label: str, given: FrameChoice) -> FrameChoice:
    """Keeps the choice about a frame in place of the former one; nothing marked takes it away.

    Raises `NotFound`, and `InvalidInput` for a crop that reaches beyond the picture or holds nothing.
    """
    frame = frame_row(session, roll_row(session, roll), label)
    crop = checked_crop(given.crop) if given.crop is not None else None
    row = session.get(ChoiceRow, frame.id)
    if not given.selected and crop is None:
        if row is not None:
            session.delete(row)
    else:
        left, top, right, bottom = crop or (None, None, None, None)
        crops = {"crop_left": left, "crop_top": top, "crop_right": right, "crop_bottom": bottom}
        session.merge(ChoiceRow(frame_id=frame.id or 0, selected=given.selected, **crops))
    session.flush()
    return FrameChoice(given.selected, crop)


def choice_of_frame(session: Session, frame_id: int) -> FrameChoice:
    """The choice about one frame; the empty one where nothing is marked."""
    row = session.get(ChoiceRow, frame_id)
    return _choice(row) if row else FrameChoice()


def choices_of_roll(session: Session, number: str) -> Mapping[int, FrameChoice]:
    """The choices about a roll's frames by frame id; a frame with nothing marked isn't in it. Raises `NotFound`."""
    query = select(ChoiceRow).join(Frame, col(Frame.id) == col(ChoiceRow.frame_id))
    return _by_frame(session.exec(query.where(Frame.roll_id == roll_row(session, number).id)).all())


def choices_of_page(session: Session, page_id: int) -> Mapping[int, FrameChoice]:
    """The choices about the frames that lie on a page, by frame id. Raises `NotFound`."""
    page_row(session, page_id)
    on_page = select(StripFrame.frame_id).join(Strip, col(Strip.id) == col(StripFrame.strip_id)).where(Strip.page_id == page_id)
    return _by_frame(session.exec(select(ChoiceRow).where(col(ChoiceRow.frame_id).in_(on_page))).all())


def selects_of_roll(session: Session, number: str) -> tuple[FrameView, ...]:
    """The frames of a roll that are selects, in film order, each with where it lies. Raises `NotFound`."""
    chosen = {key for key, choice in choices_of_roll(session, number).items() if choice.selected}
    return tuple(f for f in roll_view(session, number).frames if f.id in chosen) if chosen else ()


def turns_of_frame(session: Session, frame_id: int) -> int:
    """Quarters clockwise from the frame as it lies on the film to its best picture as shown; 0 without a scan."""
    pairs = scans_of(session, [frame_id]).get(frame_id)
    frame = session.get_one(Frame, frame_id)
    return _turns(pairs[0], film_of(session, session.get_one(Roll, frame.roll_id))) if pairs else 0


def _turns(pair: ScanPair, film: FilmFormat) -> int:
    scan, file = pair
    area = area_of(scan) or (0, 0, 1, 1)
    width, height = file.width_px * area[2], file.height_px * area[3]
    if scan.quarter_turns % 2:
        width, height = height, width
    along, across = film.frame_along_mm, film.frame_across_mm
    square = min(max(width, height) / min(width, height), max(along, across) / min(along, across)) < _NEARLY_SQUARE
    lies_across = not square and (width > height) != (along > across)
    return turns_to_stand(lies_across=lies_across, quarter_turns=scan.quarter_turns, mirrored=scan.mirrored)


def _choice(row: ChoiceRow) -> FrameChoice:
    if row.crop_left is None or row.crop_top is None or row.crop_right is None or row.crop_bottom is None:
        return FrameChoice(row.selected)
    return FrameChoice(row.selected, (row.crop_left, row.crop_top, row.crop_right, row.crop_bottom))


def _by_frame(rows: Sequence[ChoiceRow]) -> dict[int, FrameChoice]:
    return {row.frame_id: _choice(row) for row in rows}
