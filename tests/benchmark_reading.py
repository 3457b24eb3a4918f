"""How fast pictures are read, against pyvips and against the bare limit. Run by hand; prints times, ratios and memory.

    python tests/benchmark_reading.py [--small]

36 JPEGs of 24 megapixels in two workers, and one 16-bit RGB TIFF of 60 megapixels (`--small`: 8 and 10 megapixels).
Every way of reading runs in a process of its own and is timed inside it, its workers' start included. "pyvips" does
the same work in two threads: SHA-256, a JPEG of 1600 px and one of 400 px. "limit" is SHA-256 and the reduced decoding
alone, in two threads. On a machine that does other work at the same
time the processor's seconds say more. Memory is the peak of the process plus, for each worker, that of the largest one.
Aims: at most 0.85 of pyvips, 1.5 of the limit and 200 MB for the JPEGs; 1.15 of pyvips and 250 MB for the TIFF.
"""

import argparse
import hashlib
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from pathlib import Path

ROOT = Path(__file__).parent.parent
WORKERS = 2
DISTINCT = 3


def make(folder: Path, small: bool) -> None:
    """Gradients with grain; a comment of two bytes tells the copies apart."""
    import numpy as np
    import tifffile
    from PIL import Image

    random = np.random.default_rng(24)
    width, height = 6000, 4000
    across, down = np.linspace(0, 200, width, dtype=np.float32), np.linspace(0, 55, height, dtype=np.float32)[:, None]
    (folder / "jpeg").mkdir()
    for distinct in range(DISTINCT):
        planes = [across + down + random.normal(0, 9, (height, width)).astype(np.float32) + 10 * n for n in range(3)]
        picture = np.clip(np.stack(planes, 2), 0, 255).astype(np.uint8)
        out = BytesIO()
        Image.fromarray(picture).save(out, "JPEG", quality=93)
        data = out.getvalue()
        for copy in range((9 if small else 36) // DISTINCT):
            comment = b"\xff\xfe\0\4" + bytes((65 + distinct, 65 + copy))
            (folder / "jpeg" / f"{distinct}-{copy}.jpg").write_bytes(data[:2] + comment + data[2:])
    wide, high = (3900, 2600) if small else (9500, 6320)
    ramp = np.linspace(0, 60000, wide, dtype=np.float32)[None, :, None]
    with tifffile.TiffWriter(folder / "big.tif") as tiff:
        rows = ((ramp + random.normal(0, 900, (min(64, high - top), wide, 3))).clip(0, 65535) for top in range(0, high, 64))
        strips = (np.ascontiguousarray(row, dtype=np.uint16) for row in rows)
        tiff.write(strips, shape=(high, wide, 3), dtype=np.uint16, rowsperstrip=64, photometric="rgb")


def read_jpegs(folder: Path, archive: Path) -> int:
    from catalogue.scans.read.many_files import read_files

    results = list(read_files(sorted((folder / "jpeg").iterdir()), archive, workers=WORKERS))
    assert all(result.facts for result in results), results
    return max(result.facts.width_px for result in results if result.facts)


def read_tiff(folder: Path, archive: Path) -> int:
    from catalogue.scans.read.one_file import read_file

    return read_file(folder / "big.tif", archive).width_px


def _in_threads(folder: Path, work: Callable[[Path], int]) -> int:
    with ThreadPoolExecutor(WORKERS) as pool:
        return max(pool.map(work, sorted((folder / "jpeg").iterdir())))


def _pyvips(image: "object", archive: Path, sha256: str) -> int:
    import pyvips

    assert isinstance(image, pyvips.Image)
    image = image.copy_memory()
    image.jpegsave(str(archive / f"{sha256}-1600.jpg"), Q=85)
    image.thumbnail_image(400, height=400).jpegsave(str(archive / f"{sha256}-400.jpg"), Q=85)
    return image.width


def pyvips_jpegs(folder: Path, archive: Path, longest: int = 1600) -> int:
    import pyvips

    def work(path: Path) -> int:
        data = path.read_bytes()
        image = pyvips.Image.thumbnail_buffer(data, longest, height=longest, size="down")
        return _pyvips(image, archive, hashlib.sha256(data).hexdigest())

    return _in_threads(folder, work)


def pyvips_jpegs_1500(folder: Path, archive: Path) -> int:
    return pyvips_jpegs(folder, archive, 1500)


def pyvips_tiff(folder: Path, archive: Path) -> int:
    import pyvips

    with (folder / "big.tif").open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return _pyvips(pyvips.Image.thumbnail(str(folder / "big.tif"), 1600, height=1600, size="down"), archive, sha256)


def limit_jpegs(folder: Path, archive: Path) -> int:
    from PIL import Image

    def work(path: Path) -> int:
        data = path.read_bytes()
        hashlib.sha256(data).hexdigest()
        image = Image.open(BytesIO(data))
        image.draft(None, (image.width // 4, image.height // 4))
        image.load()
        return image.width

    return _in_threads(folder, work)


VARIANTS: dict[str, Callable[[Path, Path], int]] = {
    f.__name__: f for f in (read_jpegs, pyvips_jpegs, pyvips_jpegs_1500, limit_jpegs, read_tiff, pyvips_tiff)
}


def one(name: str, folder: Path) -> None:
    with tempfile.TemporaryDirectory() as archive:
        began = time.perf_counter()
        VARIANTS[name](folder, Path(archive))
        took = time.perf_counter() - began
    own, child = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    busy = own.ru_utime + own.ru_stime + child.ru_utime + child.ru_stime
    print(json.dumps({"seconds": took, "busy": busy, "mb": (own.ru_maxrss + child.ru_maxrss * WORKERS) / 1024}))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--small", action="store_true", help="fewer and smaller pictures")
    asked.add_argument("--rounds", type=int, default=2, help="the best of so many rounds counts (2)")
    asked.add_argument("--make", type=Path, help=argparse.SUPPRESS)
    asked.add_argument("--one", nargs=2, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.make:
        make(given.make, given.small)
    elif given.one:
        one(given.one[0], Path(given.one[1]))
    else:
        compare(given.small, given.rounds)


def compare(small: bool, rounds: int) -> None:
    surroundings = os.environ | {"PYTHONPATH": str(ROOT)}
    me = [sys.executable, str(Path(__file__).resolve())]
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([*me, "--make", folder, *(["--small"] if small else [])], check=True, env=surroundings)
        files = sorted((Path(folder) / "jpeg").iterdir())
        size = sum(file.stat().st_size for file in files) / len(files) / 1e6
        print(f"{len(files)} JPEGs of {size:.1f} MB; TIFF of {(Path(folder) / 'big.tif').stat().st_size / 1e6:.0f} MB")
        best: dict[str, dict[str, float]] = {}
        for name in list(VARIANTS) * rounds:
            ran = subprocess.run([*me, "--one", name, folder], check=True, env=surroundings, stdout=subprocess.PIPE)
            result = json.loads(ran.stdout)
            held = best.get(name, result)
            best[name] = {what: min(held[what], value) for what, value in result.items() if what != "mb"}
            best[name]["mb"] = max(held["mb"], result["mb"])
    for name, result in best.items():
        print(f"{name:18} {result['seconds']:6.2f} s {result['busy']:6.2f} s of processor {result['mb']:6.0f} MB")
    for ours, other, aim in (
        ("read_jpegs", "pyvips_jpegs", 0.85),
        ("read_jpegs", "pyvips_jpegs_1500", 0.85),
        ("read_jpegs", "limit_jpegs", 1.5),
        ("read_tiff", "pyvips_tiff", 1.15),
    ):
        time_ratio, busy_ratio = (best[ours][what] / best[other][what] for what in ("seconds", "busy"))
        print(f"{ours} / {other}: {time_ratio:.2f}, of processor {busy_ratio:.2f} (aim: at most {aim})")
    for name, aim in (("read_jpegs", 200), ("read_tiff", 250)):
        print(f"{name}: {best[name]['mb']:.0f} MB (aim: under {aim})")


if __name__ == "__main__":
    main()
