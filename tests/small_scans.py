"""Small scans for tests: one flat picture a frame, each another, in the scan folder; and what of them must never change."""

import shutil
from pathlib import Path

from PIL import Image, ImageDraw
from sqlmodel import Session

from catalogue.scans.match.linking import link_scan
from catalogue.scans.read.file_kinds import natural_key
from catalogue.settings import scan_folder
from catalogue.store.engine import Archive, open_archive
from catalogue.views import RollView, ScanView


def flat(number: int, size: tuple[int, int] = (60, 40)) -> Image.Image:
    """A picture with a shape that tells it from any other number."""
    image = Image.new("RGB", size, (40 + 5 * number % 200, 90, 150))
    ImageDraw.Draw(image).rectangle((number % 20, number % 7, 30 + number % 25, 30), (200, 20 + number * 3 % 200, 60))
    return image


def scanned(session: Session, roll: RollView, labels: list[str], folder: str = "scans") -> list[ScanView]:
    """One picture for each frame named, linked, in a folder of the scan folder."""
    place = scan_folder(session) / folder
    place.mkdir(parents=True, exist_ok=True)
    found = []
    for number, label in enumerate(labels):
        flat(number).save(place / f"{label}.png")
        found.append(link_scan(session, roll.number, label, f"{folder}/{label}.png"))
    return found


def tied_by_name(session: Session, number: str, folder: str) -> None:
    """Ties every picture in a folder of the scan folder to the frame that it is named after: 23A.jpg, 2031-014_23A.jpg."""
    for path in sorted((scan_folder(session) / folder).iterdir(), key=lambda path: natural_key(path.name)):
        link_scan(session, number, path.stem.removeprefix(f"{number}_"), f"{folder}/{path.name}")


def untouched(root: Path) -> dict[str, tuple[bytes, int]]:
    """Every file below the folder with its bytes and its date, to hold against the same later."""
    return {str(p.relative_to(root)): (p.read_bytes(), p.stat().st_mtime_ns) for p in sorted(root.rglob("*")) if p.is_file()}


def copy_of(made: Path, tmp_path: Path) -> Archive:
    """A copy of an archive made once for a whole module, so that each test may do with it what it likes."""
    shutil.copytree(made, tmp_path / "copy")
    return open_archive(tmp_path / "copy")
