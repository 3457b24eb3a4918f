"""A roll's scans as they really come: pictures drawn by the example archive, as negatives of a copy stand and as web copies."""

import io
import random
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps

from example_archive.pictures import Floats, negative, picture, seed_of
from example_archive.subjects import SUBJECTS


def frame_picture(label: str, roll: str = "2031-050") -> Floats:
    """The positive of one frame, 320 × 213 pixels, values 0 to 1; each frame its own."""
    names = sorted(SUBJECTS)
    return picture(names[seed_of(label) % len(names)], f"{roll}_{label}", 36, 24, colour=True)


def as_image(value: Floats) -> Image.Image:
    """The picture in 8 bits."""
    return Image.fromarray((np.clip(value, 0, 1) * 255).round().astype(np.uint8))


def copied(label: str, scale: int = 4) -> Image.Image:
    """The colour negative of a frame as the copy stand sees it, 1280 × 852 pixels."""
    image = as_image(negative(frame_picture(label), colour=True))
    return image.resize((image.width * scale, image.height * scale), Image.Resampling.BICUBIC)


def jpeg_with_date(image: Image.Image, moment: str, quality: int = 88) -> bytes:
    """A JPEG whose Exif says when it was digitised and by which invented camera."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Wendel", "Copymat 2"
    exif.get_ifd(0x8769)[0x9003] = moment
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()


@dataclass(frozen=True)
class Folder:
    """What was put into the folder: file name to frame label, None for a file that shows no frame."""

    frames: dict[str, str | None]
    mirrored: str
    broken: str
    skipped: str


def mixed_folder(folder: Path, labels: list[str], *, seed: int = 5) -> Folder:
    """Files of a whole roll with shuffled names and kinds: two repeats, one frame skipped, one mirrored, one broken."""
    folder.mkdir(parents=True)
    rng = random.Random(seed)
    skipped, mirrored = labels[10], labels[20]
    shots = [label for label in labels if label != skipped]
    shots[5:5] = [shots[5]]
    shots[15:15] = [shots[15]]
    numbers = rng.sample(range(100, 999), len(shots) + 1)
    frames: dict[str, str | None] = {}
    mirrored_name = ""
    for at, (label, number) in enumerate(zip(shots, numbers, strict=False)):
        image = copied(label)
        if label == mirrored:
            image = ImageOps.mirror(image)
        name = f"x{number}.{('jpg', 'tif', 'png', 'jpg')[at % 4]}"
        if name.endswith(".jpg"):
            (folder / name).write_bytes(jpeg_with_date(image, f"2031:09:14 10:{at:02}:00"))
        elif name.endswith(".tif"):
            image.convert("L").save(folder / name) if at % 8 == 1 else image.save(folder / name, compression="tiff_lzw")
        else:
            image.save(folder / name)
        frames[name] = label
        mirrored_name = name if label == mirrored else mirrored_name
    broken = f"x{numbers[-1]}.jpg"
    whole = jpeg_with_date(copied(labels[0]), "2031:09:14 11:00:00")
    (folder / broken).write_bytes(whole[: len(whole) // 3])
    return Folder(frames, mirrored_name, broken, skipped)


def web_copies(folder: Path, labels: list[str]) -> None:
    """Small positives named by frame, as made long ago: their way up is known."""
    folder.mkdir(parents=True)
    for label in labels:
        as_image(frame_picture(label)).save(folder / f"{label}.jpg", quality=70)
