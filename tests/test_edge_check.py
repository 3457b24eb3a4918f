"""A proposal held against the edge numbers on the film: confirmed, corrected, and the person's own word left alone."""

from pathlib import Path

import pytest
from edge_painter import Strip, paint_edge, run_of_codes
from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.rolls.change import get_roll
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.scans.edge.check import hold_against_edges
from catalogue.scans.edge.numbers import name_stock
from catalogue.scans.match.approve import approve
from catalogue.scans.match.propose import proposal, propose, settle
from catalogue.scans.read.folder_runs import read_run, start_run
from catalogue.store.engine import Archive


def scans_with_rebate(folder: Path, frames: dict[str, int | None]) -> None:
    """One scan a frame with the rebate above and below; the edge bears the number given, or none."""
    folder.mkdir(parents=True)
    for at, (name, number) in enumerate(frames.items()):
        codes = run_of_codes(f"79-7/{number}", 1) if number is not None else ()
        strip = Strip(codes=codes, pictures=(1,), length_mm=38.0, first_mm=19.0, seed=at + 1)
        paint_edge(strip, 12).save(folder / name)


def labels(session: Session, run: int) -> dict[str, tuple[str | None, str]]:
    return {line.name: (line.label, line.doubt) for line in proposal(session, run)}


@pytest.fixture
def run(archive: Archive) -> int:
    """Four scans whose names say 1 to 4; the film says 1, 3, nothing, and 4."""
    scans_with_rebate(archive.folder / "scans" / "r", {"1.png": 1, "2.png": 3, "3.png": None, "4.png": 4})
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-001", frames=6, layout="135-6x6"))
        started = start_run(session, "r", "2031-001").id
    read_run(archive, started)
    with archive.session() as session:
        propose(session, started, "names", "{frame}")
    return started


def test_edge_numbers_confirm_and_correct_what_names_say(archive: Archive, run: int) -> None:
    with archive.session() as session:
        name_stock(session, "79-7", "Tarn 100")  # an invented stock for the number of the public test vectors
    words = hold_against_edges(archive, run)
    assert "3 of 4 files" in words
    assert "2 confirm the frame, 1 correct it" in words
    with archive.session() as session:
        found = labels(session, run)
        assert [found[f"{n}.png"][0] for n in (1, 2, 3, 4)] == ["1", "3", "3", "4"]
        assert "edge code says frame 3" in found["2.png"][1]
        assert approve(session, run) == 4
        roll = get_roll(session, "2031-001")
        assert roll.stock == "Tarn 100"
        assert [len(f.scans) for f in roll.frames] == [1, 0, 2, 1, 0, 0]
    with pytest.raises(InvalidInput, match="tied"):
        hold_against_edges(archive, run)


def test_what_was_settled_by_hand_stays_with_a_doubt(archive: Archive, run: int) -> None:
    with archive.session() as session:
        line = next(line for line in proposal(session, run) if line.name == "2.png")
        settle(session, run, {line.id: "5"})
    hold_against_edges(archive, run)
    with archive.session(reading=True) as session:
        assert labels(session, run)["2.png"] == ("5", "The edge code says frame 3.")


def test_it_stops_where_it_is_asked_to(archive: Archive, run: int) -> None:
    assert "0 of 4" in hold_against_edges(archive, run, cancelled=lambda: True)


def test_film_without_such_a_code_is_said(archive: Archive) -> None:
    scans_with_rebate(archive.folder / "scans" / "m", {"1.png": None})
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-002", format="120-6x6", frames=12))
        run = start_run(session, "m", "2031-002").id
    read_run(archive, run)
    with pytest.raises(InvalidInput, match="no such edge code"):
        hold_against_edges(archive, run)
