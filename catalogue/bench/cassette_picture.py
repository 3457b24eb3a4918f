"""The code on a 135 cassette, read from a photograph of it."""

from io import BytesIO

from catalogue.errors import InvalidInput, StripleafError, UnreadablePicture
from catalogue.film.cassette_code import CassetteCode

MOST_BYTES = 30_000_000
_LONGEST_PX = 4000


def cassette_in(picture: bytes) -> CassetteCode:
    """The cassette code in a photograph of the cassette (JPEG, PNG, TIFF or WebP), at any angle the bars allow.

    Raises `UnreadablePicture` for what is no picture and `InvalidInput` where no code of six digits can be read.
    """
    import zxingcpp
    from PIL import Image, ImageOps

    if len(picture) > MOST_BYTES:
        raise InvalidInput(f"The picture has {len(picture) / 1e6:.0f} MB; send one of up to {MOST_BYTES / 1e6:.0f} MB.")
    try:
        with Image.open(BytesIO(picture)) as opened:
            opened.draft("L", (_LONGEST_PX, _LONGEST_PX))
            grey = ImageOps.exif_transpose(opened).convert("L")
            grey.thumbnail((_LONGEST_PX, _LONGEST_PX))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, EOFError) as problem:
        raise UnreadablePicture("This file is no picture that can be read. Send a JPEG, PNG, TIFF or WebP.") from problem
    found: set[str] = set()
    for turned in (0, 45):  # bars are read along and across; a cassette lying aslant is turned once more
        view = grey.rotate(turned, expand=True, fillcolor=255) if turned else grey
        for code in zxingcpp.read_barcodes(view, formats=zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.ITF])):
            try:
                found.add(str(CassetteCode.parse(code.text)))
            except StripleafError:
                continue  # another bar code that lies in the picture
        if found:
            break
    if not found:
        raise InvalidInput(
            "No cassette code can be read in this picture. Photograph the bars sharp, from straight above and filling "
            "the picture, or type the six digits under them."
        )
    if len(found) > 1:
        raise InvalidInput(f"There are several cassette codes in this picture: {', '.join(sorted(found))}. Photograph one alone.")
    return CassetteCode.parse(found.pop())
