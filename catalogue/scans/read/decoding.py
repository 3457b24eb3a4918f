"""Decoding a picture file straight to a small 8-bit sRGB picture, each kind by the library that does it right.

JPEG goes through Pillow with decoding at a reduced scale. PNG and TIFF go through pyvips, which streams them, since
Pillow cuts 16-bit colour down to 8 bits and clips 16-bit grey. TIFF compressions that pyvips lacks go through
tifffile, raw files through rawpy. Each library is imported in the function that needs it.
"""

from io import BytesIO
from typing import TYPE_CHECKING, Any, BinaryIO

from catalogue.errors import UnreadablePicture
from catalogue.scans.read.embedded_facts import Header
from catalogue.scans.read.file_kinds import PictureKind

if TYPE_CHECKING:
    from PIL import Image

ENOUGH = 0.8
"""A JPEG whose reduced decoding comes to this much of the size asked for isn't decoded larger to be shrunk again."""
MAX_WHOLE_BYTES = 200_000_000
"""TIFF compressions that only tifffile knows are decoded whole, up to so many bytes of samples."""
STREAMED = frozenset((1, 2, 3, 4, 5, 7, 8, 32773, 32946))
"""TIFF compressions that pyvips decodes: none, the fax kinds, LZW, JPEG, deflate (two numbers), PackBits."""
PROFILE_IGNORED = "Its colour profile can't be used, so the preview shows the colours as they are stored."


def decode(file: BinaryIO, data: bytes | None, header: Header, longest_px: int, name: str) -> "tuple[Image.Image, str]":
    """The picture as stored (not turned upright), mode L or RGB in sRGB, at most `longest_px` on its longer side.

    `data` holds the whole file where it is in memory, else it is read from `file`. Nothing is made larger. The
    second result is a sentence on the colours where there is something to say. Transparent parts come out white.
    Raises `UnreadablePicture` for what is never read, and whatever the library raises for broken files.
    """
    if header.kind is PictureKind.JPEG:
        return _by_pillow(file, header, longest_px)
    if header.kind is PictureKind.RAW:
        return _by_rawpy(file, longest_px, name), ""
    if header.kind is PictureKind.TIFF and header.compression not in STREAMED:
        return _by_tifffile(file, header, longest_px, name)
    return _by_pyvips(file, data, header, longest_px)


def shrink(image: "Image.Image", longest_px: int) -> "Image.Image":
    """The picture at most `longest_px` on its longer side; the same one where it is no larger."""
    from PIL import Image

    scale = longest_px / max(image.size)
    if scale >= 1:
        return image
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    # First by whole numbers, which is fast, then the rest with a filter that takes every pixel into account.
    return image.resize(size, Image.Resampling.HAMMING, reducing_gap=1.5)


def profile_description(profile: bytes) -> str:
    """What a colour profile calls itself, up to 200 characters; a sentence of our own for a broken one."""
    from PIL import ImageCms

    try:
        told = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return "a colour profile that can't be read"
    return " ".join(told.split())[:200] or "a colour profile without a name"


def _by_pillow(file: BinaryIO, header: Header, longest_px: int) -> "tuple[Image.Image, str]":
    from PIL import ImageCms, JpegImagePlugin

    file.seek(0)
    image: Image.Image = JpegImagePlugin.JpegImageFile(file)
    enough = longest_px * ENOUGH
    reduced = next((by for by in (8, 4, 2) if max(image.size) >= by * enough), 1)
    if reduced > 1:
        image.draft(None, (max(1, image.width // reduced), max(1, image.height // reduced)))
    image.load()
    small, note = shrink(image, longest_px), ""
    if header.profile:
        try:
            small = ImageCms.profileToProfile(  # type: ignore[assignment]
                small, ImageCms.ImageCmsProfile(BytesIO(header.profile)), ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            note = PROFILE_IGNORED
    return small if small.mode in ("L", "RGB") else small.convert("RGB"), note


def _vips() -> Any:
    import pyvips

    pyvips.cache_set_max(0)  # each picture is read once, so what it keeps is never asked for again
    return pyvips


def _by_pyvips(file: BinaryIO, data: bytes | None, header: Header, longest_px: int) -> "tuple[Image.Image, str]":
    vips = _vips()
    # By source and loader: a name handed to pyvips would be searched for options in square brackets.
    source = vips.Source.new_from_descriptor(file.fileno()) if data is None else vips.Source.new_from_memory(data)
    load = vips.Image.tiffload_source if header.kind is PictureKind.TIFF else vips.Image.pngload_source
    # Without fail_on it hands out black where it can't go on.
    return _finished(load(source, access="sequential", fail_on="error"), header, longest_px)


def _finished(image: Any, header: Header, longest_px: int) -> "tuple[Image.Image, str]":
    """Shrinks a pyvips image as it streams, and brings the small one to 8-bit sRGB."""
    from PIL import Image

    note = ""
    if image.hasalpha():
        paper = 0 if image.interpretation == "cmyk" else 65535 if image.format == "ushort" else 255
        image = image.flatten(background=[paper] * (image.bands - 1))
    if not header.profile and image.interpretation in ("rgb16", "grey16"):
        # 8 bits are shrunk in half the time; with a profile all 16 count until the colours are converted.
        image = image.cast("uchar", shift=True).copy(interpretation="srgb" if image.bands > 1 else "b-w")
    scale = longest_px / max(image.width, image.height)
    if scale < 1:
        # gap=1: by whole numbers as far as that goes, twice as fast as the careful default and as good for a preview
        image = image.resize(max(scale, 1 / image.width), vscale=max(scale, 1 / image.height), gap=1.0)
    image = image.copy_memory()  # from here on whatever fails is the colours' fault and not the file's
    if header.profile:
        # Asked first, as pyvips takes a profile of its own for one that can't be used.
        if _fits(header.profile, image.bands):
            image = image.icc_transform("srgb", embedded=True, intent="perceptual", depth=8)
        else:
            note = PROFILE_IGNORED
    grey = image.bands == 1
    if image.format == "ushort" and image.interpretation in ("rgb16", "grey16"):
        image = image.cast("uchar", shift=True)  # the upper 8 bits, as with other readers
    else:
        image = image.colourspace("b-w" if grey else "srgb").cast("uchar")
    image = image if grey else image.extract_band(0, n=3)
    return Image.frombytes("L" if grey else "RGB", (image.width, image.height), image.write_to_memory()), note


def _fits(profile: bytes, bands: int) -> bool:
    from PIL import ImageCms

    try:
        space = ImageCms.ImageCmsProfile(BytesIO(profile)).profile.xcolor_space.strip()
    except (ImageCms.PyCMSError, OSError, ValueError):
        return False
    return {"GRAY": 1, "RGB": 3, "CMYK": 4}.get(space) == bands


def _by_tifffile(file: BinaryIO, header: Header, longest_px: int, name: str) -> "tuple[Image.Image, str]":
    size = header.width * header.height * header.channels * max(8, header.bits) // 8
    if size > MAX_WHOLE_BYTES or header.bits not in (8, 16) or header.photometric not in (0, 1, 2) or header.channels > 4:
        raise UnreadablePicture(
            f"{name} has TIFF compression {header.compression}, which is read for grey and RGB of 8 or 16 bits up to "
            f"{MAX_WHOLE_BYTES // 1_000_000} MB; it holds {size // 1_000_000} MB. Save a copy with LZW or deflate and link that."
        )
    try:
        import tifffile
    except ImportError as problem:
        raise UnreadablePicture(
            f"{name} has TIFF compression {header.compression}, and reading that needs two more libraries. "
            "Install them with: pip install tifffile imagecodecs."
        ) from problem
    file.seek(0)
    with tifffile.TiffFile(file) as tiff:
        page = tiff.pages.first
        rows = page.asarray()
        if page.axes.startswith("S"):  # one plane after the other
            rows = rows.transpose(1, 2, 0)
    height, width = rows.shape[:2]
    bands = header.channels
    vips = _vips()
    depth = "ushort" if header.bits == 16 else "uchar"
    samples = rows.astype("uint16" if header.bits == 16 else "uint8", copy=False).tobytes()
    image = vips.Image.new_from_memory(samples, width, height, bands, depth)
    colour = ("rgb16" if bands > 2 else "grey16") if header.bits == 16 else ("srgb" if bands > 2 else "b-w")
    image = image.copy(interpretation=colour)
    if header.photometric == 0:  # white is zero
        image = (2**header.bits - 1 - image).cast(depth)
    if header.profile:
        image = image.copy()
        image.set_type(vips.GValue.blob_type, "icc-profile-data", header.profile)
    return _finished(image, header, longest_px)


def raw_shape(file: BinaryIO, name: str) -> tuple[int, int, int, int]:
    """Width and height as stored, bits to a sample and orientation (1 to 8) of a raw file, by rawpy."""
    with _rawpy(name).imread(file) as raw:
        # The library's own numbers for a turn by half, a quarter to the left, a quarter to the right.
        orientation = {3: 3, 5: 8, 6: 6}.get(raw.sizes.flip, 1)
        return raw.sizes.width, raw.sizes.height, min(16, int(raw.white_level or 65535).bit_length()), orientation


def _rawpy(name: str) -> Any:
    try:
        import rawpy
    except ImportError as problem:
        raise UnreadablePicture(
            f"{name} is a raw file, and reading those needs one more library. Install it with: pip install rawpy."
        ) from problem
    return rawpy


def _by_rawpy(file: BinaryIO, longest_px: int, name: str) -> "Image.Image":
    from PIL import Image

    file.seek(0)
    with _rawpy(name).imread(file) as raw:
        half = max(raw.sizes.width, raw.sizes.height) > longest_px
        return shrink(Image.fromarray(raw.postprocess(half_size=half, use_camera_wb=True, user_flip=0)), longest_px)
