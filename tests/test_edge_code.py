"""Edge and cassette codes of 135 film against published vectors and a second, independent encoder."""

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.cassette_code import CassetteCode
from catalogue.film.edge_code import HALF_FRAME_MM, EdgeCode, clock, label_at
from catalogue.film.frame_numbers import FrameNumber

CODES = st.builds(
    lambda product, generation, frame, half: EdgeCode(product, generation, frame, half and frame is not None),
    st.integers(1, 127),
    st.integers(0, 15),
    st.none() | st.integers(0, 63),
    st.booleans(),
)

# Expected data tracks in a public bar code encoder's test file (test_dxfilmedge.c); the last was computed from the layout.
VECTORS = [
    ("79-7", "10101010011110011100101"),
    ("1-0", "10101000000010000010101"),
    ("79-7/1", "1010101001111001110000010010101"),
    ("79-7/1A", "1010101001111001110000011000101"),
    ("79-7/0", "1010101001111001110000000000101"),
    ("79-7/0A", "1010101001111001110000001010101"),
    ("79-7/62", "1010101001111001111111100010101"),
    ("79-7/63", "1010101001111001111111110000101"),
    ("127-15/63A", "1010101111111011111111111000101"),
    ("115-10/11A", "1010101110011010100010111010101"),
]


@pytest.mark.parametrize(("text", "modules"), VECTORS)
def test_published_data_tracks(text: str, modules: str) -> None:
    code = EdgeCode.parse(text)
    assert code.modules() == modules
    assert EdgeCode.from_modules(modules) == code


def test_clock_tracks() -> None:
    # Both clock tracks as a public description and the same encoder give them.
    assert clock(long=True) == "1111101010101010101010101010111"
    assert clock(long=False) == "11111010101010101010111"
    # Four perforations of 4.75 mm, long pitch.
    assert pytest.approx(4 * 4.75) == HALF_FRAME_MM


@given(CODES)
def test_every_code_comes_back_from_its_modules_and_its_text(code: EdgeCode) -> None:
    modules = code.modules()
    assert len(modules) == (23 if code.frame is None else 31) == len(clock(code.frame is not None))
    assert EdgeCode.from_modules(modules) == code
    assert EdgeCode.parse(str(code)) == code


@given(CODES)
def test_a_second_encoder_draws_the_same_tracks(code: EdgeCode) -> None:
    # zxing-cpp draws the symbol: the clock above, the data below, one pixel a module, a pixel of margin.
    number = "" if code.frame is None else f"/{code.frame}{'A' * code.half}"
    symbol = zxingcpp.create_barcode(code.stock + number, zxingcpp.BarcodeFormat.DXFilmEdge)
    picture = memoryview(zxingcpp.write_barcode_to_image(symbol))
    height, width = picture.shape
    rows = ["".join("1" if picture[y, x] == 0 else "0" for x in range(1, width - 1)) for y in (0, height - 1)]
    assert rows == [clock(code.frame is not None), code.modules()]


@given(CODES, st.data())
def test_a_single_misread_module_is_refused(code: EdgeCode, data: st.DataObject) -> None:
    modules = code.modules()
    at = data.draw(st.integers(0, len(modules) - 1))
    wrong = modules[:at] + ("0" if modules[at] == "1" else "1") + modules[at + 1 :]
    with pytest.raises(InvalidInput):
        EdgeCode.from_modules(wrong)


@pytest.mark.parametrize(
    ("modules", "said"),
    [
        ("1010101001111001110000010000101", "parity"),  # 79-7/1 with its parity turned round
        ("1110101001111001110000010010101", "begins with 101010"),
        ("1010101001111001110000010010111", "ends with 0101"),
        ("1010101001111101110000010000101", "1 where a 0 separates"),  # the separator set, parity made to fit
        ("1010101001111001110000010100101", "1 where a 0 separates"),
        ("1010100000000001110000010000101", "between 1 and 127, not 0"),  # 0-7/1, parity right
        ("101010100111100111000001001010", "30 modules"),
        ("", "0 modules"),
        ("1010101001111001110000010010102", "ones and zeros"),
        ("١" * 31, "ones and zeros"),
    ],
)
def test_impossible_data_tracks_are_refused(modules: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        EdgeCode.from_modules(modules)


# The first eight are refused in the same public test file.
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("128-0", "between 1 and 127, not 128"),
        ("127-16", "between 0 and 15, not 16"),
        ("79-2/64", "between 0 and 63, not 64"),
        ("79-2/-1", "not an edge code"),
        ("79-2/2B", "not an edge code"),
        ("79-2/A", "not an edge code"),
        ("79-2/", "not an edge code"),
        ("79-2-1", "not an edge code"),
        ("0-5", "between 1 and 127, not 0"),
        ("0015", "between 1 and 127, not 0"),
        ("2048", "between 1 and 127, not 128"),
        ("", "not an edge code"),
        ("79", "not an edge code"),
        ("12714", "not an edge code"),
        ("٧٩-7", "not an edge code"),
        ("79-7/XA", "not an edge code"),
        ("9" * 5000, "…” is not an edge code"),
    ],
)
def test_impossible_codes_are_refused(text: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        EdgeCode.parse(text)


def test_a_half_frame_needs_a_frame() -> None:
    with pytest.raises(InvalidInput, match="no half frame"):
        EdgeCode(79, 7, None, True)


@pytest.mark.parametrize(
    ("text", "frame", "label", "half_steps", "written"),
    # 62 is S or X, 63 is 00 or K, 0 is 0 or F (public description); 00 lies before 0 on the film.
    [
        ("79-7/62", 62, "X", -4, "79-7/X"),
        ("79-7/s", 62, "X", -4, "79-7/X"),
        ("79-7/62A", 62, None, -3, "79-7/62A"),
        ("79-7/00", 63, "00", -2, "79-7/00"),
        ("79-7/K", 63, "00", -2, "79-7/00"),
        ("79-7/63A", 63, "00A", -1, "79-7/00A"),
        ("79-7/F", 0, "0", 0, "79-7/0"),
        ("1271/01a", 1, "1A", 3, "79-7/1A"),
        ("079-07/36A", 36, "36A", 73, "79-7/36A"),
        ("1271", None, None, None, "79-7"),
    ],
)
def test_frames_and_their_labels(text: str, frame: int | None, label: str | None, half_steps: int | None, written: str) -> None:
    code = EdgeCode.parse(text)
    assert code.frame == frame and code.half_steps == half_steps and str(code) == written
    assert code.frame_number == (FrameNumber.parse(label) if label else None)


def test_labels_rise_along_the_film() -> None:
    labels = [label for label in map(label_at, range(-10, 140)) if label]
    assert labels == sorted(labels) and [str(label) for label in labels[:4]] == ["X", "00", "00A", "0"]
    assert str(labels[-1]) == "61A"


# Cassette codes in a public description (the last two with their stock and length stated there), the others decoded by its rule.
@pytest.mark.parametrize(
    ("text", "stock", "exposures"),
    [
        ("010804", "67-8", 36),
        ("005574", "34-13", 36),
        ("105614", "35-1", 36),
        ("015264", "95-6", 36),
        ("315223", "95-2", 24),
        ("017563", "109-12", 24),
    ],
)
def test_published_cassette_codes(text: str, stock: str, exposures: int) -> None:
    code = CassetteCode.parse(text)
    assert (code.stock.stock, code.exposures, str(code)) == (stock, exposures, text)


def test_dx_numbers() -> None:
    # 115-4 is 1844 and 79-7 is 1271 in the same description; the range there is 0016 to 2047.
    numbers = [EdgeCode.parse(text).dx_number for text in ("115-4", "79-7", "1-0", "127-15")]
    assert numbers == ["1844", "1271", "0016", "2047"]


@given(st.integers(0, 9), CODES, st.integers(0, 7))
def test_every_cassette_code_comes_back(prefix: int, code: EdgeCode, digit: int) -> None:
    cassette = CassetteCode(prefix, EdgeCode(code.product, code.generation), digit)
    assert CassetteCode.parse(str(cassette)) == cassette


def test_lengths_by_the_last_digit() -> None:
    # 1 to 7 and 0 as the public description lists them; 7 is none of the usual lengths.
    lengths = [CassetteCode.parse(f"01271{digit}").exposures for digit in "12345670"]
    assert lengths == [12, 20, 24, 36, 48, 60, None, 72]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("01271", "six digits"),
        ("0127145", "six digits"),
        ("٠12714", "six digits"),
        ("", "six digits"),
        ("000154", "0016 and 2047, not 0015"),
        ("020484", "0016 and 2047, not 2048"),
        ("012718", "is 0 to 7, not 8"),
    ],
)
def test_impossible_cassette_codes_are_refused(text: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        CassetteCode.parse(text)


def test_a_cassette_has_one_prefix_digit_and_no_frame() -> None:
    with pytest.raises(InvalidInput, match="not 10"):
        CassetteCode(10, EdgeCode(79, 7), 4)
    with pytest.raises(InvalidInput, match="names no frame"):
        CassetteCode(0, EdgeCode(79, 7, 1), 4)
