"""A sheet of a PDF as a picture, to be looked at before paper is used."""

import threading
from io import BytesIO

from catalogue.errors import NotFound

WIDEST_PX = 1600
_ONE_AT_A_TIME = threading.Lock()  # the library may be called by one thread only


def sheet_png(pdf: bytes, sheet: int, width_px: int = 900) -> bytes:
    """Sheet `sheet` (from 1) as PNG, `width_px` wide (at most `WIDEST_PX`) and as high as its proportion asks.

    Raises `NotFound` where the PDF has no such sheet.
    """
    import pypdfium2  # type: ignore[import-untyped]  # heavy: here, so that a service at rest is without it

    with _ONE_AT_A_TIME:
        document = pypdfium2.PdfDocument(pdf)
        try:
            count = len(document)
            if not 1 <= sheet <= count:
                raise NotFound(f"There is no sheet {sheet}: it has {count} sheet{'' if count == 1 else 's'}.")
            page = document[sheet - 1]
            scale = (min(max(width_px, 50), WIDEST_PX) - 0.01) / page.get_width()  # the library rounds up
            image = page.render(scale=scale).to_pil()
            page.close()
        finally:
            document.close()
    out = BytesIO()
    image.convert("L" if image.mode == "L" else "RGB").save(out, "PNG", optimize=False)
    return out.getvalue()
