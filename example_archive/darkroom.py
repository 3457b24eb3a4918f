"""What the example says of the darkroom: selects and crops on proofs, and prints made. Every name is invented."""

from sqlmodel import Session

from catalogue.darkroom.print_records import MarkInput, PrintInput, record_print
from catalogue.rolls.choices import choose_frame
from catalogue.views import FrameChoice

CHOICES: tuple[tuple[str, str, FrameChoice], ...] = (
    ("2028-001", "3", FrameChoice(True)),
    ("2028-001", "7", FrameChoice(True, (0.08, 0.0, 0.94, 0.86))),
    ("2028-001", "12", FrameChoice(False, (0.0, 0.12, 0.8, 1.0))),
    ("2031-014", "23A", FrameChoice(True, (0.05, 0.05, 0.95, 0.95))),
    ("2031-014", "4", FrameChoice(True)),
)
"""Roll, frame, and what is marked of it."""

_KIT = {"enlarger": "Tarnow 67", "lens": "Orvane E 50/2.8", "developer": "Halmra print, 1+9, 20 °C"}
PRINTS: tuple[tuple[str, str, PrintInput], ...] = (
    (
        "2028-001", "7",
        PrintInput(
            enlarger=_KIT["enlarger"], lens=_KIT["lens"], height_mm=312, aperture="f/8", paper="Corvane fibre, glossy",
            grade="grade 2", base_time_s=14, developer=_KIT["developer"], size_mm=(180, 120), printed="2028-11",
            notes="Sky too light; try a burn.",
        ),
    ),
    (
        "2028-001", "7",
        PrintInput(
            enlarger=_KIT["enlarger"], lens=_KIT["lens"], height_mm=412, aperture="f/8", paper="Corvane fibre, glossy",
            grade="grade 3", base_time_s=24, developer=_KIT["developer"], size_mm=(270, 180), printed="2031-02-16",
            marks=[
                MarkInput(kind="burn", where="sky, upper third", change="+1/2 stop", area=(0, 0, 1, 0.33)),
                MarkInput(kind="dodge", where="the boats", change="−3 s", area=(0.3, 0.55, 0.25, 0.2)),
            ],
            notes="Fixed twice, washed an hour.",
        ),
    ),
)  # fmt: skip


def mark_and_print(session: Session) -> None:
    """Puts the choices and the prints into the example, through the operations that a person uses."""
    for roll, label, choice in CHOICES:
        choose_frame(session, roll, label, choice)
    for roll, label, given in PRINTS:
        record_print(session, roll, label, given)
