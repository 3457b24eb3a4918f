"""What the edge code on a scan says: the stock by its DX number, and whether the frames bear the numbers assumed."""

from dataclasses import dataclass

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput
from catalogue.film.edge_code import EdgeCode
from catalogue.film.frame_numbers import FrameNumber
from catalogue.rolls.rows import film_of
from catalogue.scans.edge.check import edge_of, picture_span
from catalogue.scans.edge.frames import confirm
from catalogue.scans.match.linking import scan_row
from catalogue.settings import scan_folder
from catalogue.store.apart import set_apart
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import DxStock, Scan

LONGEST_PX = 8000
"""A strip of six frames is read at 35 pixels a millimetre at most; 5 are enough."""


@dataclass(frozen=True)
class EdgeReport:
    """What was read along the edge of one scan; `agreements` are sentences, one a frame."""

    codes: tuple[str, ...]
    dx_numbers: tuple[str, ...]
    stock: str
    agreements: tuple[str, ...]

    @property
    def words(self) -> str:
        """The whole as a sentence."""
        if not self.codes:
            return "No edge code can be read on this scan. It must show the rebate with the bars, sharp, at 100 pixels an inch."
        named = f" ({self.stock})" if self.stock else ""
        return f"Edge codes {', '.join(self.codes)}; DX number {', '.join(self.dx_numbers)}{named}."


def name_stock(session: Session, dx_number: str, stock: str) -> DxStock:
    """Keeps which stock a DX number stands for; asked once, known for ever."""
    code = EdgeCode.parse(dx_number.strip())
    plain = " ".join(stock.split())[:120]
    if not plain:
        raise InvalidInput(f"Say which stock has the DX number {code.dx_number}.")
    row = session.merge(DxStock(dx_number=code.dx_number, stock=plain))
    session.flush()
    return row


def read_edge(session: Session, scan_id: int) -> EdgeReport:
    """Reads the edge codes of a scan and holds them against the frames it is tied to.

    A roll without a stock gets the one that the person has named for the DX number.
    """
    scan, file, frame, roll = scan_row(session, scan_id)
    (edge,) = set_apart(session, edge_of, (scan_folder(session) / file.path, LONGEST_PX))
    codes = edge.codes
    numbers = tuple(dict.fromkeys(r.code.dx_number for r in codes))
    stock = ""
    if len(numbers) == 1 and (known := session.get(DxStock, numbers[0])) is not None:
        stock = known.stock
        if not roll.stock:
            roll.stock = stock
            session.add(roll)
            index_roll(session, roll.id or 0)
    spans, labels = _pictures_on(session, scan, frame, roll, edge.along_px)
    # Where one code alone is read, the picture is taken to be one film's width across, as it is in reading the code.
    px_per_mm = edge.across_px / film_of(session, roll).gauge_width_mm
    numbered = [FrameNumber(label) for label in labels]
    said = tuple(str(a) for a in confirm(codes, spans, numbered, px_per_mm=px_per_mm)) if codes else ()
    return EdgeReport(tuple(dict.fromkeys(str(r.code) for r in codes)), numbers, stock, said)


def _pictures_on(
    session: Session, scan: Scan, frame: Frame, roll: Roll, along_px: int
) -> tuple[list[tuple[float, float]], list[str]]:
    """Where the frames tied to this file lie along it, in pixels, and their labels."""
    film = film_of(session, roll)
    query = (
        select(Scan, Frame.label)
        .join(Frame, col(Frame.id) == col(Scan.frame_id))
        .where(Scan.file_id == scan.file_id)
        .order_by(col(Scan.area_x))
    )
    found = [(s.area_x, s.area_w, label) for s, label in session.exec(query)]
    if len(found) > 1 or (found and found[0][0] is not None):
        return [((x or 0) * along_px, ((x or 0) + (w or 1)) * along_px) for x, w, _ in found], [label for *_, label in found]
    return [picture_span(along_px, film)], [frame.label]
