"""The bar code of a cassette read from a photograph; the bars are drawn by zxing-cpp, a general-purpose library."""

from io import BytesIO

import pytest
import zxingcpp
from PIL import Image, ImageFilter

from catalogue.bench.cassette_picture import cassette_in
from catalogue.errors import InvalidInput, UnreadablePicture

# Public codes with what they stand for: DX number and exposures.
CODES = {"010804": ("67-8", 36), "017563": ("109-12", 24), "315223": ("95-2", 24), "105614": ("35-1", 36)}


def photograph(*codes: str, turned: float = 0, blur: float = 1.0) -> bytes:
    """Cassettes on a grey table, seen by a soft lens."""
    table = Image.new("L", (1400, 500 * max(1, len(codes))), 150)
    for place, code in enumerate(codes):
        bars = zxingcpp.create_barcode(code, zxingcpp.BarcodeFormat.ITF).to_image(scale=6)
        drawn = Image.fromarray(bars).convert("L").resize((900, 300))
        label = Image.new("L", (1040, 360), 235)
        label.paste(drawn, (70, 30))
        table.paste(label, (150, 500 * place + 70))
    seen = table.rotate(turned, expand=True, fillcolor=150).filter(ImageFilter.GaussianBlur(blur))
    kept = BytesIO()
    seen.save(kept, "JPEG", quality=80)
    return kept.getvalue()


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("turned", [0, 90, 187, 40])
def test_a_photographed_code_gives_stock_and_exposures(code: str, turned: int) -> None:
    read = cassette_in(photograph(code, turned=turned))
    assert str(read) == code
    assert (read.stock.dx_number and str(read.stock), read.exposures) == CODES[code]


def test_what_can_not_be_read_is_said() -> None:
    with pytest.raises(UnreadablePicture, match="no picture"):
        cassette_in(b"not a picture")
    with pytest.raises(InvalidInput, match="type the six digits"):
        cassette_in(photograph())
    with pytest.raises(InvalidInput, match="several"):
        cassette_in(photograph("010804", "017563"))
