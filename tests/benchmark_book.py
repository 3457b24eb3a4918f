"""A book's speed and memory as ratios to the same pictures drawn bare. Run: python tests/benchmark_book.py [rolls]

Not a test: figures depend on the machine, ratios much less. Each piece of work
runs in a process of its own, so that its highest memory is its own; what the
process held before the work (imports, fonts, the record itself) is taken off.
"""

import io
import json
import pickle
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

PRINTED_ON = date(2031, 9, 14)


def now_mb() -> float:
    """What this process holds now, in MB (Linux)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1e6


def highest_mb() -> float:
    """The most this process ever held, in MB (Linux counts in KiB); begins with what its parent held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


def prepare(folder: Path, rolls: int) -> None:
    """Records of 36 frames a roll and a page, every frame with a picture file of its own."""
    from builders import filed
    from PIL import Image

    from catalogue.rolls.change import get_roll
    from catalogue.rolls.file import add_binder, get_page
    from catalogue.rolls.plan import NewRoll
    from catalogue.store.engine import open_archive
    from printing.book.binder_record import BinderRecord

    archive = open_archive(folder / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        captions = {str(n): f"Quay {n}, from the lane" for n in range(1, 37, 3)}
        made = filed(session, NewRoll(frames=36, layout="135-6x6", subject="Harbour", place="Skarvholm", captions=captions))
        roll, page = get_roll(session, made.number), get_page(session, made.page_ids[0])
    archive.close()
    picture = io.BytesIO()
    Image.effect_noise((240, 160), 50).convert("RGB").save(picture, "JPEG", quality=80)
    pages, views = [], []
    for n in range(1, rolls + 1):
        number = f"2031-{n:03}"
        frames = []
        for placed in page.plan.frames:
            file = folder / f"{number}-{placed.label}.jpg"
            file.write_bytes(picture.getvalue())
            frames.append(replace(placed, roll=number, picture=str(file)))
        summary = replace(page.rolls[0], number=number)
        pages.append(replace(page, id=n, number=n, plan=replace(page.plan, frames=tuple(frames)), rolls=(summary,)))
        own = tuple(
            replace(f, roll=number, id=n * 100 + k, address=replace(f.address, page=n)) for k, f in enumerate(roll.frames)
        )  # type: ignore[type-var]
        views.append(replace(roll, id=n, number=number, frames=own))
    for name, count in (("half", rolls // 2), ("whole", rolls)):
        record = BinderRecord(page.archive_name, page.binder, "", tuple(pages[:count]), tuple(views[:count]))
        (folder / f"{name}.pickle").write_bytes(pickle.dumps(record))


def book(folder: Path, name: str) -> dict[str, float]:
    """Plans and writes the book; seconds, and MB above what was there before."""
    from printing.book.documents import planned_book, write_book

    record = pickle.loads((folder / f"{name}.pickle").read_bytes())
    small = replace(record, pages=(), rolls=())
    write_book(planned_book(small), io.BytesIO(), printed_on=PRINTED_ON)
    before, began = now_mb(), time.perf_counter()
    plan = planned_book(record)
    planned, held = time.perf_counter() - began, now_mb() - before
    with (folder / "book.pdf").open("wb") as out:
        write_book(plan, out, printed_on=PRINTED_ON)
    taken = time.perf_counter() - began
    size = (folder / "book.pdf").stat().st_size / 1e6
    return {"leaves": len(plan.leaves), "s": taken, "planning": planned, "held": held, "mb": highest_mb() - before, "file": size}


def bare(folder: Path, name: str) -> dict[str, float]:
    """The same picture files, 36 a page, with ReportLab and nothing else."""
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    rl_config.useA85 = 0
    record = pickle.loads((folder / f"{name}.pickle").read_bytes())
    before, began = now_mb(), time.perf_counter()
    canvas = Canvas(str(folder / "bare.pdf"), pageCompression=1)
    for page in record.pages:
        for n, frame in enumerate(page.plan.frames):
            canvas.drawImage(frame.picture, 50 + n % 3 * 170, 40 + n // 3 * 60, 60, 40)
        canvas.showPage()
    canvas.save()
    taken, size = time.perf_counter() - began, (folder / "bare.pdf").stat().st_size / 1e6
    return {"leaves": len(record.pages), "s": taken, "mb": highest_mb() - before, "file": size}


def prepared(folder: Path, rolls: str) -> dict[str, float]:
    """Preparing apart too: a child's highest memory begins with its parent's."""
    prepare(folder, int(rolls))
    return {}


def apart(folder: Path, work: str, name: str) -> dict[str, float]:
    """One piece of work in a process of its own."""
    done = subprocess.run([sys.executable, __file__, work, str(folder), name], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def main(rolls: int) -> None:
    """Prints the ratios."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        apart(folder, "prepare", str(rolls))
        whole, half, plain = apart(folder, "book", "whole"), apart(folder, "book", "half"), apart(folder, "bare", "whole")
    print(
        f"a book of {whole['leaves']} leaves, {rolls * 36} pictures, {whole['file']:.0f} MB: {whole['s']:.1f} s, "
        f"of which planning {whole['planning']:.1f} s; the pictures bare {plain['s']:.1f} s; ratio {whole['s'] / plain['s']:.1f}"
    )
    print(
        f"memory above the start: book {whole['mb']:.1f} MB (the plan itself {whole['held']:.1f} MB), bare {plain['mb']:.1f} MB, "
        f"ratio {whole['mb'] / plain['mb']:.2f}"
    )
    more = whole["leaves"] - half["leaves"]
    per_leaf = whole["file"] / whole["leaves"] * 1000
    print(
        f"half the book ({half['leaves']} leaves): {half['mb']:.1f} MB (plan {half['held']:.1f} MB); "
        f"every further leaf costs {(whole['mb'] - half['mb']) / more * 1000:.0f} kB, "
        f"of which the plan {(whole['held'] - half['held']) / more * 1000:.0f} kB, for {per_leaf:.0f} kB of file"
    )


if __name__ == "__main__":
    if len(sys.argv) == 4:
        work = {"prepare": prepared, "book": book, "bare": bare}[sys.argv[1]]
        print(json.dumps(work(Path(sys.argv[2]), sys.argv[3])))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
