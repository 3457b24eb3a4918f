"""Reading picture files: facts against what other libraries wrote, previews against what they decode, odd files."""

import hashlib
import os
import struct
import zlib
from collections.abc import Iterable
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageOps

from catalogue.errors import ArchiveProblem, InvalidInput, NotFound, OutsideScanFolder, UnreadablePicture
from catalogue.scans.read import file_kinds
from catalogue.scans.read import one_file as reading
from catalogue.scans.read.decoding import decode
from catalogue.scans.read.embedded_facts import Header, iso_date, jpeg_header, png_header, tiff_header
from catalogue.scans.read.file_kinds import PictureKind, natural_key, picture_files
from catalogue.scans.read.many_files import FileRead, read_files
from catalogue.scans.read.one_file import FileFacts, GreyPicture, large_preview_path, read_file, thumbnail_path


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    (tmp_path / "scans").mkdir()
    return tmp_path / "scans"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "archive").mkdir()
    return tmp_path / "archive"


def smooth(width: int, height: int, channels: int = 3, top: int = 65535) -> np.ndarray[Any, Any]:
    """Slow gradients over the whole range, another direction in each channel."""
    y, x = np.mgrid[0:height, 0:width]
    planes = [x / (width - 1), y / (height - 1), 1 - x / (width - 1), (x + y) / (width + height - 2)][:channels]
    rows = np.round(np.stack(planes, 2) * top).astype(np.uint16 if top > 255 else np.uint8)
    return rows[:, :, 0] if channels == 1 else rows


def picture(width: int = 90, height: int = 60) -> Image.Image:
    return Image.fromarray(smooth(width, height, top=255))


def opened(path: Path) -> np.ndarray[Any, Any]:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def small_8_bits(path: Path, longest: int = reading.PREVIEW_PX) -> tuple[np.ndarray[Any, Any], Header]:
    """What becomes a preview, before the JPEG encoder rounds it."""
    with path.open("rb") as file:
        if path.suffix == ".png":
            header = png_header(file)
        elif path.suffix == ".jpg":
            header = jpeg_header(file)
        else:
            header = tiff_header(file, path.name)
        image, _ = decode(file, None, header, longest, path.name)
    return np.asarray(image), header


def png_16(rows: np.ndarray[Any, Any]) -> bytes:
    """A 16-bit PNG put together here from its chunks (PNG 5 and 11), as Pillow writes no 16-bit colour."""
    height, width = rows.shape[:2]
    channels = 1 if rows.ndim == 2 else rows.shape[2]
    lines = b"".join(b"\0" + line.astype(">u2").tobytes() for line in rows)

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 16, {1: 0, 2: 4, 3: 2, 4: 6}[channels], 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")


TIFFS: dict[str, dict[str, Any]] = {
    "plain": {},
    "lzw": {"compression": "lzw", "predictor": True},
    "deflate": {"compression": "deflate"},
    "tiles": {"compression": "deflate", "tile": (32, 32)},
    "packbits": {"compression": "packbits"},
    # Kinds that pyvips as it is built for Python can't read.
    "zstd": {"compression": "zstd"},
    "lzma": {"compression": "lzma"},
}


@pytest.mark.parametrize("big", [False, True], ids=["classic", "BigTIFF"])
@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("top", [255, 65535])
@pytest.mark.parametrize("how", TIFFS)
def test_tiff_samples_are_those_that_tifffile_wrote(
    how: str, top: int, channels: int, order: str, big: bool, scans: Path
) -> None:
    rows = smooth(100, 70, channels, top)
    path = scans / "scan.tif"
    with tifffile.TiffWriter(path, bigtiff=big, byteorder=order) as tiff:  # type: ignore[arg-type]
        tiff.write(rows, photometric="rgb" if channels == 3 else "minisblack", **TIFFS[how])
    found, header = small_8_bits(path)
    expected = tifffile.imread(path) >> (8 if top > 255 else 0)
    assert np.array_equal(found, expected)
    assert (header.width, header.height, header.channels) == (100, 70, channels)
    assert header.bits == (16 if top > 255 else 8) and header.colour == ("RGB" if channels == 3 else "grey")


def test_16_bits_are_shrunk_in_tone(scans: Path, folder: Path) -> None:
    rows = smooth(4800, 48, 1)
    tifffile.imwrite(scans / "wide.tif", rows, photometric="minisblack", compression="deflate")
    found, _ = small_8_bits(scans / "wide.tif")
    assert found.shape == (16, 1600)
    mean_of_blocks = tifffile.imread(scans / "wide.tif").reshape(48, 1600, 3).mean(axis=(0, 2)) / 256
    assert np.abs(found.mean(0) - mean_of_blocks).max() < 1.5
    facts = read_file(scans / "wide.tif", folder)
    assert (facts.width_px, facts.height_px, facts.bits_per_sample) == (4800, 48, 16)
    assert facts.small.array().shape == (3, 256)


def test_white_is_zero(scans: Path) -> None:
    rows = smooth(100, 70, 1)
    for compression in ("lzw", "zstd"):
        tifffile.imwrite(scans / "scan.tif", rows, photometric="miniswhite", compression=compression)
        found, _ = small_8_bits(scans / "scan.tif")
        assert np.array_equal(found, (65535 - rows) >> 8)  # TIFF 6.0, PhotometricInterpretation 0


@pytest.mark.parametrize("channels", [1, 3])
def test_16_bit_png(channels: int, scans: Path, folder: Path) -> None:
    rows = smooth(100, 70, channels)
    (scans / "scan.png").write_bytes(png_16(rows))
    found, header = small_8_bits(scans / "scan.png")
    assert np.array_equal(found, rows >> 8) and header.bits == 16
    facts = read_file(scans / "scan.png", folder)
    assert (facts.kind, facts.bits_per_sample, facts.channels) == (PictureKind.PNG, 16, channels)


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "LA", "CMYK", "LAB"])
@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif"])
def test_modes_that_pillow_writes(mode: str, ending: str, scans: Path, folder: Path) -> None:
    source = picture()
    if mode == "LAB":
        lab = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB")
        image = ImageCms.applyTransform(source, lab)
        assert image is not None
    else:
        image = (source.convert("L") if mode == "CMYK" else source).convert(mode)
    if mode in ("RGBA", "LA"):
        image.putalpha(128)
    path = scans / f"scan{ending}"
    try:
        image.save(path, quality=95) if ending == ".jpg" else image.save(path)
    except OSError:
        assert (mode, ending) in {(m, ".jpg") for m in ("P", "RGBA", "LA", "LAB")} | {("CMYK", ".png"), ("LAB", ".png")}
        return
    if mode == "LAB":
        with pytest.raises(UnreadablePicture, match=r"photometric interpretation 8\)\. Save a copy in RGB"):
            read_file(path, folder)
        return
    facts = read_file(path, folder)
    assert (facts.width_px, facts.height_px) == (90, 60)
    seen = opened(large_preview_path(folder, facts.sha256))
    plain = image.convert("RGB") if mode in ("P", "RGB", "CMYK") else source.convert(mode.removesuffix("A")).convert("RGB")
    expected = np.asarray(plain).astype(int)
    if mode in ("RGBA", "LA"):
        expected = np.round(expected * (128 / 255) + 127).astype(int)  # white paper behind
        assert facts.channels == len(mode)
    if mode == "CMYK" and ending == ".tif":
        # Without a profile every reader takes inks of its own, so only light and dark are compared.
        assert np.corrcoef(seen.sum(2).ravel(), expected.sum(2).ravel())[0, 1] > 0.95
    elif ending == ".jpg":
        assert np.abs(seen - expected).mean() < 4
    else:
        found, header = small_8_bits(path)
        found = np.broadcast_to(found[:, :, None], expected.shape) if found.ndim == 2 else found
        assert np.abs(found.astype(int) - expected).max() <= (1 if mode.endswith("A") else 0)
        assert header.bits == (1 if mode == "1" else 8)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif"])
def test_every_orientation_stands_upright(orientation: int, ending: str, scans: Path, folder: Path) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    path = scans / f"scan{ending}"
    image = picture(120, 60)
    if ending == ".tif":
        tags = [(274, 3, 1, orientation, True)]
        tifffile.imwrite(path, np.asarray(image), photometric="rgb", extratags=tags)
    else:
        image.save(path, exif=exif, **({"quality": 98, "subsampling": 0} if ending == ".jpg" else {}))
    facts = read_file(path, folder)
    # Pillow turns by the same table of the Exif standard; checked against its own function.
    image.getexif()[274] = orientation
    expected = ImageOps.exif_transpose(image)
    assert facts.embedded.orientation == orientation
    assert (facts.width_px, facts.height_px) == expected.size
    assert np.abs(opened(large_preview_path(folder, facts.sha256)) - np.asarray(expected).astype(int)).mean() < 3
    grey = np.asarray(expected.convert("L")).astype(int)
    assert np.abs(facts.small.array().astype(int) - grey).mean() < 3


def swapped_profile() -> bytes:
    """An sRGB profile whose red and green primaries have changed places; built from the library's own sRGB."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = struct.unpack_from(">I", data, 128)[0]  # ICC.1 7.3: the tag table
    at = {bytes(data[132 + 12 * n : 136 + 12 * n]): 132 + 12 * n for n in range(count)}
    red, green = at[b"rXYZ"], at[b"gXYZ"]
    data[red + 4 : red + 12], data[green + 4 : green + 12] = data[green + 4 : green + 12], data[red + 4 : red + 12]
    return bytes(data)


@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif", "-16.tif"])
def test_preview_colours_are_those_of_the_profile(ending: str, scans: Path, folder: Path) -> None:
    profile, path = swapped_profile(), scans / f"scan{ending}"
    image = picture()
    if ending == "-16.tif":
        tifffile.imwrite(path, np.asarray(image).astype(np.uint16) * 257, photometric="rgb", iccprofile=profile)
    else:
        image.save(path, icc_profile=profile, **({"quality": 98, "subsampling": 0} if ending == ".jpg" else {}))
    facts = read_file(path, folder)
    held = ImageCms.ImageCmsProfile(BytesIO(profile))
    expected = ImageCms.profileToProfile(image, held, ImageCms.createProfile("sRGB"), outputMode="RGB")
    assert expected is not None
    seen = opened(large_preview_path(folder, facts.sha256))
    assert np.abs(seen - np.asarray(expected).astype(int)).mean() < 4
    assert np.abs(seen - np.asarray(image).astype(int)).mean() > 30  # so the profile made a difference
    assert facts.profile == ImageCms.getProfileDescription(held).strip()
    assert facts.notes == ()


def test_a_broken_profile_is_told_and_does_not_stop_the_reading(scans: Path, folder: Path) -> None:
    picture().save(scans / "a.jpg", icc_profile=b"no profile at all" * 20)
    tifffile.imwrite(scans / "a.tif", smooth(90, 60), photometric="rgb", iccprofile=b"no profile at all" * 20)
    for name in ("a.jpg", "a.tif"):
        facts = read_file(scans / name, folder)
        assert facts.profile == "a colour profile that can't be read"
        assert "colour profile can't be used" in facts.notes[0]
    assert read_file(scans / "a.jpg", folder).small.width_px == 90


def exif_of_a_stand() -> Image.Exif:
    exif = Image.Exif()
    exif[271], exif[272] = "Kupfermann", "Kupfermann Tischstativ 2"
    exif[282], exif[283], exif[296] = 4000.0, 2000.0, 2
    exif[274], exif[306] = 6, "2024:02:29 08:09:10"
    details = exif.get_ifd(0x8769)
    details[0x9003], details[0x9011], details[0x9291] = "1985:06:  ", "+09:00", "25"
    details[0x9004], details[0x9012], details[0x9292] = "2024:02:28 23:59:59", "+01:00", "25"
    return exif


@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif"])
def test_what_the_tags_say(ending: str, scans: Path, folder: Path) -> None:
    path = scans / f"scan{ending}"
    picture().save(path, exif=exif_of_a_stand().tobytes())
    told = read_file(path, folder).embedded
    assert told.stand_camera == "Kupfermann Tischstativ 2"
    assert told.original is not None and told.original.iso == "1985-06"
    assert told.digitized is not None and told.digitized.found == "2024:02:28 23:59:59"
    assert told.digitized.iso == "2024-02-28T23:59:59.25+01:00"
    assert told.changed is not None and told.changed.iso == "2024-02-29T08:09:10"
    assert told.orientation == 6
    assert told.resolution_ppi == (2000, 4000)  # turned along with the picture


def test_resolution_of_other_units(scans: Path, folder: Path) -> None:
    picture().save(scans / "a.jpg", dpi=(300, 600))
    picture().save(scans / "a.png", dpi=(300, 600))
    tifffile.imwrite(scans / "a.tif", smooth(90, 60), resolution=(1000, Fraction(500)), resolutionunit="CENTIMETER")
    tifffile.imwrite(scans / "b.tif", smooth(90, 60), resolution=(3, 4), resolutionunit="NONE")
    assert read_file(scans / "a.jpg", folder).embedded.resolution_ppi == (300, 600)
    assert read_file(scans / "a.png", folder).embedded.resolution_ppi == pytest.approx((300, 600), abs=0.02)
    assert read_file(scans / "a.tif", folder).embedded.resolution_ppi == (2540, 1270)  # 2.54 cm to the inch, exactly
    assert read_file(scans / "b.tif", folder).embedded.resolution_ppi is None


@pytest.mark.parametrize(
    ("found", "iso"),
    [
        ("2023:07:01 12:30:05", "2023-07-01T12:30:05"),
        ("2023-07-01T12:30:05", "2023-07-01T12:30:05"),
        ("2023:07:01 12:30", "2023-07-01T12:30"),
        ("1985:  :     :  :  ", "1985"),  # Exif 2.32: unknown parts are blanks, the colons stay (from memory)
        ("1985:06:     :  :  ", "1985-06"),
        ("1985:06:07   :  :  ", "1985-06-07"),
        ("2023:02:29 00:00:00", ""),
        ("0000:00:00 00:00:00", ""),
        ("2023:13:01 00:00:00", ""),
        ("2023:01:01 25:00:00", ""),
        ("yesterday", ""),
        ("", ""),
    ],
)
def test_dates_as_iso_text(found: str, iso: str) -> None:
    assert iso_date(found) == iso


@given(st.datetimes())
def test_every_date_of_the_calendar_comes_through(moment: Any) -> None:
    text = f"{moment.year:04d}:{moment.month:02d}:{moment.day:02d} {moment:%H:%M:%S}"
    assert iso_date(text) == moment.replace(microsecond=0).isoformat()


@given(st.text(max_size=40))
def test_no_text_breaks_the_date_reader(text: str) -> None:
    assert isinstance(iso_date(text, text, text), str)


def test_pages_are_told_and_the_first_is_read(scans: Path, folder: Path) -> None:
    with tifffile.TiffWriter(scans / "pages.tif") as tiff:
        for level in (50, 100, 200):
            tiff.write(np.full((60, 90), level, np.uint8), photometric="minisblack")
    facts = read_file(scans / "pages.tif", folder)
    assert facts.pages == 3 and facts.notes == ("It has 3 pages; the first was read.",)
    assert abs(int(facts.small.array().mean()) - 50) <= 1


def raw_file(path: Path, orientation: int = 6) -> None:
    """A small DNG of a colour mosaic with the tags that DNG 1.4 asks for (from memory)."""
    mosaic = np.tile(np.linspace(0, 12000, 160).astype(np.uint16), (120, 1))
    unit = [part for value in (1, 0, 0, 0, 1, 0, 0, 0, 1) for part in (value, 1)]
    tags: list[Any] = [
        (33421, 3, 2, (2, 2), True),
        (33422, 1, 4, (0, 1, 1, 2), True),
        (50706, 1, 4, (1, 4, 0, 0), True),
        (50708, 2, 0, "Tischstativ 2", True),
        (50717, 3, 1, 16383, True),
        (50721, 10, 9, unit, True),
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), True),
        (50778, 3, 1, 21, True),
        (271, 2, 0, "Kupfermann", True),
        (272, 2, 0, "Tischstativ 2", True),
        (274, 3, 1, orientation, True),
        (306, 2, 0, "2024:02:29 08:09:10", True),
    ]
    with tifffile.TiffWriter(path) as tiff:
        tiff.write(mosaic, photometric=32803, extratags=tags, metadata=None)


@pytest.mark.parametrize("name", ["scan.dng", "scan.tif"])
def test_raw_files(name: str, scans: Path, folder: Path) -> None:
    raw_file(scans / name)
    facts = read_file(scans / name, folder)
    assert (facts.kind, facts.width_px, facts.height_px) == (PictureKind.RAW, 120, 160)
    assert (facts.bits_per_sample, facts.embedded.orientation) == (14, 6)
    assert facts.embedded.stand_camera == "Kupfermann Tischstativ 2"
    # Bright on the right as stored; turned by a quarter to the right (orientation 6) that is at the bottom.
    rows = facts.small.array().astype(int).mean(1)
    assert facts.small.array().shape == (160, 120) and rows[-10:].mean() > rows[:10].mean() + 100


def test_without_rawpy_the_sentence_says_what_to_install(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    raw_file(scans / "scan.dng")
    monkeypatch.setitem(__import__("sys").modules, "rawpy", None)
    with pytest.raises(UnreadablePicture, match=r"raw file.*pip install rawpy"):
        read_file(scans / "scan.dng", folder)


def test_without_tifffile_the_sentence_says_what_to_install(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tifffile.imwrite(scans / "scan.tif", smooth(90, 60), photometric="rgb", compression="zstd")
    monkeypatch.setitem(__import__("sys").modules, "tifffile", None)
    with pytest.raises(UnreadablePicture, match=r"compression 50000.*pip install tifffile imagecodecs"):
        read_file(scans / "scan.tif", folder)


def test_facts_previews_and_an_untouched_file(scans: Path, folder: Path) -> None:
    path = scans / "scan.jpg"
    picture(2400, 1500).save(path, quality=90, comment="of the scan")
    os.utime(path, (1_700_000_000, 1_700_000_000))
    path.chmod(0o444)
    before, data = path.stat(), path.read_bytes()
    facts = read_file(path, folder)
    after = path.stat()
    assert path.read_bytes() == data and (after.st_mtime_ns, after.st_mode) == (before.st_mtime_ns, before.st_mode)
    assert facts.sha256 == hashlib.sha256(data).hexdigest() and facts.byte_size == len(data)
    assert facts.file_date == "2023-11-14T22:13:20+00:00"
    large, thumbnail = large_preview_path(folder, facts.sha256), thumbnail_path(folder, facts.sha256)
    assert large == folder / "previews" / facts.sha256[:2] / f"{facts.sha256}-1600.jpg"
    assert thumbnail.name == f"{facts.sha256}-400.jpg"
    for place, size in ((large, (1600, 1000)), (thumbnail, (400, 250))):
        with Image.open(place) as image:
            assert (image.format, image.size) == ("JPEG", size) and "comment" not in image.info
    assert (facts.small.width_px, facts.small.height_px) == (256, 160)
    assert sorted(p.name for p in large.parent.iterdir()) == [large.name, thumbnail.name]


def test_a_large_jpeg_decoded_smaller_looks_the_same(scans: Path, folder: Path) -> None:
    image = picture(6000, 600)
    image.save(scans / "scan.jpg", quality=95)
    seen = opened(large_preview_path(folder, read_file(scans / "scan.jpg", folder).sha256))
    assert seen.shape == (150, 1500, 3)
    assert np.abs(seen - np.asarray(image.resize((1500, 150), Image.Resampling.BOX)).astype(int)).mean() < 2


def test_files_over_the_bite_size_are_read_alike(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture().save(scans / "a.jpg")
    picture().save(scans / "a.png")
    tifffile.imwrite(scans / "a.tif", smooth(90, 60), photometric="rgb")
    tifffile.imwrite(scans / "b.tif", smooth(90, 60), photometric="rgb", compression="zstd")
    raw_file(scans / "a.dng")
    whole = [read_file(path, folder) for path in sorted(scans.iterdir())]
    monkeypatch.setattr(reading, "SMALL_FILE_BYTES", 100)
    in_bites = [read_file(path, folder.parent / "other") for path in sorted(scans.iterdir())]
    assert in_bites == whole


def test_read_twice_decodes_and_writes_once(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture(700, 500).save(scans / "a.jpg")
    (scans / "copy.jpg").write_bytes((scans / "a.jpg").read_bytes())
    first = read_file(scans / "a.jpg", folder)
    places = (large_preview_path(folder, first.sha256), thumbnail_path(folder, first.sha256))
    written = [(place.stat().st_mtime_ns, place.stat().st_ino) for place in places]
    monkeypatch.setattr(reading, "decode", lambda *_: pytest.fail("decoded again"))
    again = read_file(scans / "copy.jpg", folder)
    assert again.small == first.small
    assert [(place.stat().st_mtime_ns, place.stat().st_ino) for place in places] == written


@pytest.mark.parametrize("damage", [b"", b"\xff\xd8\xff no picture"])
def test_damaged_previews_are_made_anew(damage: bytes, scans: Path, folder: Path) -> None:
    picture(700, 500).save(scans / "a.jpg")
    first = read_file(scans / "a.jpg", folder)
    thumbnail_path(folder, first.sha256).write_bytes(damage)
    assert read_file(scans / "a.jpg", folder) == first
    with Image.open(thumbnail_path(folder, first.sha256)) as image:
        assert image.size == (400, 286)


def test_stopped_in_the_middle_leaves_no_half_preview(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture().save(scans / "a.jpg")

    def stopped(self: Path, data: bytes) -> int:
        with self.open("wb") as file:
            file.write(data[: len(data) // 2])
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_bytes", stopped)
        with pytest.raises(ArchiveProblem, match=r"can't be written: No space left on device"):
            read_file(scans / "a.jpg", folder)
    assert [p for p in folder.rglob("*") if p.is_file()] == []
    assert thumbnail_path(folder, read_file(scans / "a.jpg", folder).sha256).is_file()


def test_an_encoder_that_fails_leaves_nothing(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture().save(scans / "a.jpg")
    with monkeypatch.context() as patched:

        def failing(*_: object, **__: object) -> None:
            raise KeyboardInterrupt

        patched.setattr(Image.Image, "save", failing)
        with pytest.raises(KeyboardInterrupt):
            read_file(scans / "a.jpg", folder)
    assert [p for p in folder.rglob("*") if p.is_file()] == []


def bomb_png() -> bytes:
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    data = struct.pack(">I", len(head)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return b"\x89PNG\r\n\x1a\n" + data + struct.pack(">I4sI", 0, b"IEND", zlib.crc32(b"IEND"))


def of(image: Image.Image, kind: str, **options: Any) -> bytes:
    out = BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def tiff_of(rows: np.ndarray[Any, Any], **options: Any) -> bytes:
    out = BytesIO()
    tifffile.imwrite(out, rows, **options)
    return out.getvalue()


def odd_files() -> Iterable[tuple[str, bytes, str]]:
    noise = Image.fromarray(np.random.default_rng(5).integers(0, 255, (60, 90, 3), dtype=np.uint8))
    jpeg, png = of(noise, "JPEG"), of(noise, "PNG")
    plain, packed = tiff_of(smooth(90, 60), photometric="rgb"), tiff_of(smooth(90, 60), photometric="rgb", compression="lzma")
    yield "empty.jpg", b"", "is empty: 0 bytes"
    yield "text.jpg", b"not a picture at all", "is no JPEG, PNG, TIFF or raw file"
    yield "other.png", of(noise, "GIF"), "is no JPEG, PNG, TIFF or raw file"
    for name, data in (("a.jpg", jpeg), ("a.png", png), ("a.tif", plain), ("z.tif", packed)):
        for part in (20, len(data) // 3, len(data) // 2, len(data) - 40):
            yield f"{part}-{name}", data[:part], "cut short or damaged"
    yield "bomb.png", bomb_png(), "60000 × 60000 pixels; up to 170 million are read"
    yield (
        "bomb.tif",
        plain.replace(struct.pack("<HHII", 256, 4, 1, 90), struct.pack("<HHII", 256, 4, 1, 9_000_000)),
        "9000000 × 60",
    )
    at = jpeg.index(b"\xff\xc0") + 5
    yield "bomb.jpg", jpeg[:at] + b"\xff\xff\xff\xff" + jpeg[at + 4 :], "65535 × 65535 pixels"
    yield "none.png", bomb_png().replace(struct.pack(">I", 60_000), bytes(4)), "0 × 0 pixels"
    yield "float.tif", tiff_of(smooth(90, 60).astype(np.float32), photometric="rgb"), "32-bit floating-point numbers"
    yield "long.tif", tiff_of(smooth(90, 60).astype(np.uint32), photometric="rgb"), "32-bit whole numbers"
    yield "signed.tif", tiff_of(smooth(90, 60, 1).astype(np.int16)), "16-bit signed whole numbers"
    yield "noise.dng", bytes(range(256)) * 4, "cut short or damaged"
    yield "ring.tif", b"II*\0" + struct.pack("<IHI", 8, 0, 8), "0 × 0 pixels"


ODD = list(odd_files())


@pytest.mark.parametrize(("name", "data", "said"), ODD, ids=[name for name, _, _ in ODD])
def test_odd_files_are_refused_with_a_sentence(name: str, data: bytes, said: str, scans: Path, folder: Path) -> None:
    (scans / name).write_bytes(data)
    with pytest.raises(UnreadablePicture) as raised:
        read_file(scans / name, folder)
    assert said in str(raised.value) and name in str(raised.value)
    assert str(raised.value).endswith(".")
    assert [p for p in folder.rglob("*") if p.is_file()] == []


def test_absurd_sizes_are_refused_without_being_read(scans: Path, folder: Path) -> None:
    with (scans / "huge.tif").open("wb") as file:
        file.truncate(reading.MAX_BYTES + 1)  # takes no room on the disk
    with pytest.raises(UnreadablePicture, match=r"2000000001 bytes; up to 2000000000 are read"):
        read_file(scans / "huge.tif", folder)


def test_what_is_no_file_is_refused(scans: Path, folder: Path) -> None:
    (scans / "folder.jpg").mkdir()
    os.mkfifo(scans / "pipe.jpg")
    for name, said in (("folder.jpg", "is a folder"), ("pipe.jpg", "is a pipe"), ("gone.jpg", "There is no file")):
        with pytest.raises(UnreadablePicture, match=said):
            read_file(scans / name, folder)
    with pytest.raises(UnreadablePicture, match="is a pipe, a socket or a device"):
        read_file(Path("/dev/zero"), folder)
    with pytest.raises(UnreadablePicture, match="can't be opened"):
        read_file(scans / ("a" * 300 + ".jpg"), folder)
    with pytest.raises(UnreadablePicture, match="can't be opened"):
        read_file(scans / "a\0b.jpg", folder)


def test_a_file_that_changes_while_it_is_read_is_refused(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = scans / "growing.jpg"
    picture().save(path)
    facts = read_file(path, folder)

    def written_on(*_: object) -> FileFacts:
        with path.open("ab") as file:
            file.write(b"more")
        return facts

    monkeypatch.setattr(reading, "_read_open", written_on)
    with pytest.raises(UnreadablePicture, match="changed while it was read"):
        read_file(path, folder)


@pytest.mark.parametrize("sha256", ["", "../../etc", "A" * 64, "0" * 63])
def test_previews_lie_under_a_hash_only(sha256: str, folder: Path) -> None:
    with pytest.raises(InvalidInput):
        thumbnail_path(folder, sha256)


def test_grey_pictures_have_as_many_pixels_as_they_say() -> None:
    assert GreyPicture(2, 1, b"ab").array().tolist() == [[97, 98]]
    with pytest.raises(ValueError, match="5 bytes can't be 2 × 2"):
        GreyPicture(2, 2, b"abcde")


# The walk


def test_files_in_natural_order_without_hidden_files_and_sidecars(scans: Path) -> None:
    for name in ("frame 10.jpg", "frame 2.JPG", "Frame 1.tif", ".hidden.jpg", "frame 2.xmp", "notes.txt", "b/3.png", "b/20.dng"):
        (scans / name).parent.mkdir(exist_ok=True)
        (scans / name).write_bytes(b"")
    (scans / ".cache").mkdir()
    (scans / ".cache" / "1.jpg").write_bytes(b"")
    files, refused = picture_files(scans)
    assert [p.relative_to(scans).as_posix() for p in files] == [
        "b/3.png",
        "b/20.dng",
        "Frame 1.tif",
        "frame 2.JPG",
        "frame 10.jpg",
    ]
    assert [(r.path.name, r.reason) for r in refused] == [("notes.txt", "notes.txt has not the ending of a picture file.")]
    assert [p.name for p in picture_files(scans, "b")[0]] == ["3.png", "20.dng"]


def test_links_out_are_refused_and_rings_come_to_an_end(scans: Path) -> None:
    outside = scans.parent / "outside"
    outside.mkdir()
    (outside / "secret.jpg").write_bytes(b"")
    (scans / "real").mkdir()
    (scans / "real" / "1.jpg").write_bytes(b"")
    (scans / "a link.jpg").symlink_to(outside / "secret.jpg")
    (scans / "a folder").symlink_to(outside)
    (scans / "again").symlink_to(scans / "real")
    (scans / "real" / "ring").symlink_to(scans)
    (scans / "itself.jpg").symlink_to(scans / "itself.jpg")
    (scans / "nowhere.jpg").symlink_to(scans / "gone.jpg")
    (scans / "inside.jpg").symlink_to(scans / "real" / "1.jpg")
    os.mkfifo(scans / "pipe.jpg")
    files, refused = picture_files(scans)
    assert [p.relative_to(scans).as_posix() for p in files] == ["inside.jpg", "real/1.jpg"]
    reasons = {r.path.name: r.reason for r in refused}
    assert set(reasons) == {"a link.jpg", "a folder", "itself.jpg", "nowhere.jpg", "pipe.jpg"}
    assert "leads out of the scan folder" in reasons["a link.jpg"] and "leads out" in reasons["a folder"]
    assert "may lead nowhere" in reasons["itself.jpg"] and "pipe" in reasons["pipe.jpg"]


@pytest.mark.parametrize("folder", ["..", "/etc", "a/../..", "link", "a\0b"])
def test_folders_elsewhere_are_refused(folder: str, scans: Path) -> None:
    (scans / "a").mkdir()
    (scans / "link").symlink_to(scans.parent)
    with pytest.raises(OutsideScanFolder):
        picture_files(scans, folder)


def test_folders_that_are_not_there_or_hold_too_much(scans: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(NotFound, match="no folder 1985"):
        picture_files(scans, "1985")
    for number in range(3):
        (scans / f"{number}.jpg").write_bytes(b"")
    monkeypatch.setattr(file_kinds, "MAX_ENTRIES", 2)
    with pytest.raises(InvalidInput, match="more than 2 files"):
        picture_files(scans)


@given(st.lists(st.text(max_size=12), max_size=8))
def test_every_list_of_names_has_an_order(names: list[str]) -> None:
    backwards = names[::-1]
    assert sorted(names, key=natural_key) == sorted(backwards, key=natural_key)


# Many files


def test_one_bad_file_never_stops_the_rest(scans: Path, folder: Path) -> None:
    for number in range(4):
        picture(90 + number).save(scans / f"{number}.jpg")
    (scans / "bad.jpg").write_bytes(b"\xff\xd8\xff bad")
    paths = [*sorted(scans.iterdir()), scans / "gone.jpg"]
    results = {result.path.name: result for result in read_files(paths, folder, workers=2)}
    assert set(results) == {"0.jpg", "1.jpg", "2.jpg", "3.jpg", "bad.jpg", "gone.jpg"}
    for number in range(4):
        assert results[f"{number}.jpg"].facts == read_file(scans / f"{number}.jpg", folder)
    assert results["bad.jpg"].facts is None and "damaged" in results["bad.jpg"].reason
    assert "There is no file gone.jpg" in results["gone.jpg"].reason


def test_a_reader_brought_down_is_replaced(scans: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from catalogue.scans.read import many_files as reading_many

    for number in range(3):
        picture(90 + number).save(scans / f"{number}.jpg")
    falls = (
        "import os, catalogue.scans.read.many_files as many\n"
        "answer = many._answer\n"
        "many._answer = lambda path, folder: os.abort() if path.name == '1.jpg' else answer(path, folder)\n"
        "many.serve()"
    )
    monkeypatch.setattr(reading_many, "SERVE", falls)
    results = list(read_files(sorted(scans.iterdir()), folder, workers=1))
    assert [(result.path.name, result.facts is not None) for result in results] == [
        ("0.jpg", True),
        ("1.jpg", False),
        ("2.jpg", True),
    ]
    assert "1.jpg brought its reader down" in results[1].reason, results
    monkeypatch.setattr(reading_many, "SERVE", "raise SystemExit")
    with pytest.raises(ArchiveProblem, match="does not start reading"):
        list(read_files(sorted(scans.iterdir()), folder, workers=2))


def test_reading_can_be_stopped_between_files(scans: Path, folder: Path) -> None:
    for number in range(12):
        picture(90 + number).save(scans / f"{number}.jpg")
    paths, taken = sorted(scans.iterdir()), []

    def handed_out() -> Iterable[Path]:
        for path in paths:
            taken.append(path)
            yield path

    results = read_files(handed_out(), folder, workers=1)
    assert next(results).facts is not None
    results.close()  # type: ignore[attr-defined]
    assert len(taken) < len(paths)
    assert not list(folder.rglob("*.part"))
    asked = []
    stopped = list(read_files(paths, folder, workers=1, cancelled=lambda: bool(asked.append(1) or len(asked) > 2)))
    assert len(stopped) == 2
    assert list(read_files([], folder)) == []


def test_previews_that_cannot_be_written_stop_it(scans: Path, folder: Path) -> None:
    picture().save(scans / "1.jpg")
    (folder / "previews").write_bytes(b"a file where the folder should be")
    with pytest.raises(ArchiveProblem, match="can't be written"):
        list(read_files([scans / "1.jpg"], folder, workers=1))


@pytest.mark.parametrize("workers", [0, -1, 17])
def test_impossible_numbers_of_workers(workers: int, folder: Path) -> None:
    with pytest.raises(InvalidInput, match=f"{workers} workers"):
        read_files([], folder, workers=workers)


def test_a_result_has_facts_or_a_reason() -> None:
    with pytest.raises(ValueError, match="either facts or a reason"):
        FileRead(Path("a.jpg"), None)
