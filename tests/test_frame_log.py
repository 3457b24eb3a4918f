"""The frame log: CSV as people's programs write it, lines as they are typed, and every fault told at once."""

import csv
import io
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date
from catalogue.scans.log import frame_log, typed_log
from catalogue.scans.log.frame_log import LogLine, read_log_csv
from catalogue.scans.log.log_values import parse_aperture, parse_shutter, parse_taken
from catalogue.scans.log.typed_log import read_log_lines

FULL = LogLine(
    line=2,
    frames=("7",),
    taken="2031-05-14T13:05:00",
    moment=datetime(2031, 5, 14, 13, 5),
    shutter_s=Fraction(1, 250),
    aperture=5.6,
    focal_length_mm=50,
    lens="Merrow 50",
    caption="Ferry, at the “pier”",
    place="Lower Harbour",
    notes="sun in\nthe lens",
)
HEADERS = [
    "Frame No.",
    "Time of taking",
    "Shutter-Speed (s)",
    "F-Stop",
    "Focal length [mm]",
    "LENS",
    "Caption",
    "Location",
    "Remarks",
]
CELLS = [
    "7",
    "2031-05-14 13:05",
    "1/250",
    "f/5.6",
    "50 mm",
    "Merrow 50",
    "Ferry, at the “pier”",
    "Lower Harbour",
    "sun in\nthe lens",
]


def written(*rows: list[str], delimiter: str = ",", ends: str = "\r\n") -> bytes:
    out = io.StringIO(newline="")
    # The writer puts quotes around a line end only if it is its own kind.
    quotes = csv.QUOTE_ALL if ends == "\r" else csv.QUOTE_MINIMAL
    csv.writer(out, delimiter=delimiter, lineterminator=ends, quoting=quotes).writerows(rows)
    return out.getvalue().encode()


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_usual_ways_of_writing_csv(delimiter: str, ends: str, mark: bytes) -> None:
    reading = read_log_csv(mark + written(HEADERS, CELLS, delimiter=delimiter, ends=ends))
    assert reading.faults == () and reading.usable
    assert reading.lines == (FULL,)
    assert reading.columns == tuple(
        zip(HEADERS, ["frames", "taken", "shutter", "aperture", "focal_length", "lens", "caption", "place", "notes"], strict=True)
    )


def test_the_examples_of_rfc_4180() -> None:
    # RFC 4180, section 2, rules 6 and 7: "b CRLF bb" and "b""bb" within quotes; last line without an end (rule 2).
    data = b'frame,caption,notes\r\n1,"b \r\nbb",ccc\r\n2,"b""bb",ccc'
    lines = read_log_csv(data).lines
    assert [(entry.line, entry.caption) for entry in lines] == [(2, "b \r\nbb"), (4, 'b"bb')]


def test_one_line_for_several_frames_and_empty_rows() -> None:
    reading = read_log_csv(b"frames;caption;f\n8-10;Long light;5,6\n;;\n\n00-1;x;\n36a;y;f/8\n")
    assert [entry.frames for entry in reading.lines] == [("8", "9", "10"), ("00", "0", "1"), ("36A",)]
    assert [entry.line for entry in reading.lines] == [2, 5, 6]
    assert [entry.aperture for entry in reading.lines] == [5.6, None, 8]


def test_date_and_time_in_columns_of_their_own() -> None:
    data = b"frame,date,time\n1,2031-05-14,9:05\n2,2031-05~,\n3,,10:00:30\n4,2031-05-14,10:00+02:00\n"
    lines = read_log_csv(data, day=date(2031, 6, 1)).lines
    assert [entry.taken for entry in lines] == [
        "2031-05-14T09:05:00",
        "2031-05~",
        "2031-06-01T10:00:30",
        "2031-05-14T10:00:00+02:00",
    ]
    assert [entry.moment for entry in lines] == [
        datetime(2031, 5, 14, 9, 5),
        None,
        datetime(2031, 6, 1, 10, 0, 30),
        datetime(2031, 5, 14, 10, tzinfo=timezone(timedelta(hours=2))),
    ]


def test_columns_that_are_named_for_the_reading() -> None:
    data = b"picture,what it shows,frame,title\n7,dog,3,cat\n"
    reading = read_log_csv(data, columns={"picture": "frames", "frame": "", "what it shows": "notes"})
    assert reading.lines == (LogLine(2, ("7",), caption="cat", notes="dog"),)
    assert reading.columns == (("picture", "frames"), ("what it shows", "notes"), ("frame", ""), ("title", "caption"))
    reading = read_log_csv(b"a;b\n7;dog\n", columns={"a": "frames"})
    assert reading.lines == (LogLine(2, ("7",)),)


@pytest.mark.parametrize(
    ("data", "columns", "said"),
    [
        (b"", {}, "is empty"),
        (b"\n\r\n \n", {}, "is empty"),
        (b"caption,f\nx,8\n", {}, "No column names the frames"),
        (b"frame,title,caption\n1,a,b\n", {}, "title and caption both mean caption"),
        (b"frame,title\n1,a\n", {"titel": "caption"}, "no column “titel”; there are frame, title"),
        (b"frame,title\n1,a\n", {"title": "headline"}, "“headline” is nothing a column can mean"),
        ("frame,caption\n1,Fähre\n".encode("latin-1"), {}, "not UTF-8; the first odd character is in line 2"),
        ("frame,caption\n1,x\n".encode("utf-16"), {}, "UTF-16"),
        ("frame,caption\n1,x\n".encode("utf-16-le"), {}, "UTF-16"),
        (b"x" * 2_000_001, {}, "2000001 bytes"),
    ],
)
def test_files_that_cannot_be_read(data: bytes, columns: dict[str, str], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        read_log_csv(data, columns=columns)


def test_every_fault_is_told_and_nothing_given() -> None:
    data = (
        b"frame,time,shutter,aperture,caption\n"
        b"1,2031-05-14 10:00,1/250,8,fine\n"
        b'seven,25:99,250,wide,"two lines of\nfaults"\n'
        b"3,10:00,1/60,8,no date\n4,,1/60\n1,,,,again\n,,1/60,,no frame\n5,,0,0.1,\x07\n"
    )
    reading = read_log_csv(data)
    assert reading.lines == () and not reading.usable
    told = [(fault.line, fault.sentence) for fault in reading.faults]
    expected = [
        (3, "“seven” is not a frame number"),
        (5, "time without a date"),
        (6, "3 fields and the first line 5"),
        (7, "Frame 1 is named in line 2 already"),
        (8, "No frame is named"),
        (9, "“0” is not a shutter time"),
        (9, "control character"),
    ]
    for line, words in expected:
        assert any(at == line and words in sentence for at, sentence in told), (line, words, told)
    assert [line for line, _ in told] == sorted(line for line, _ in told)
    third = [sentence for line, sentence in told if line == 3]
    assert len(third) == 4 and "25:99" in third[1]
    assert "1/250 s or 250 s" in third[2] and "“wide” is not an aperture" in third[3]


@pytest.mark.parametrize("cell", ["1E5", "1E+05", "1.00E+05", "7.0", "7,5"])
def test_labels_a_spreadsheet_took_for_numbers(cell: str) -> None:
    (fault,) = read_log_csv(written(["frame", "caption"], [cell, "x"])).faults
    assert "a spreadsheet may have taken the label for a number" in fault.sentence and fault.fatal and fault.line == 2


@pytest.mark.parametrize("cell", ["2031-03-01", "01-Mar", "3. Mai", "Mar-31", "3/1/2031"])
def test_ranges_a_spreadsheet_took_for_dates(cell: str) -> None:
    (fault,) = read_log_csv(written(["frame", "caption"], [cell, "x"])).faults
    assert "taken a range for a date" in fault.sentence and fault.fatal


def test_00_stays_00_and_a_lone_0_is_noted() -> None:
    assert [entry.frames for entry in read_log_csv(b"frame\n00\n0\n1E\n").lines] == [("00",), ("0",), ("1E",)]
    reading = read_log_csv(b"frame\n0\n1\n")
    assert len(reading.lines) == 2 and [(f.line, f.fatal) for f in reading.faults] == [(2, False)]
    assert "turns 00 into 0" in reading.faults[0].sentence
    twice = read_log_csv(b"frame\n0\n0\n")
    assert twice.lines == () and any(
        f.fatal and "named in line 2" in f.sentence and "00 into 0" in f.sentence for f in twice.faults
    )


@pytest.mark.parametrize("cell", ["=1+1", "@SUM(A1)", "+49", "-2 degrees", '=HYPERLINK("http://x.example","y")'])
def test_formulas_are_text(cell: str) -> None:
    reading = read_log_csv(written(["frame", "caption"], ["7", cell]))
    assert reading.lines == (LogLine(2, ("7",), caption=cell),)
    assert [(fault.fatal, cell[0] in fault.sentence) for fault in reading.faults] == [(False, True)]


@pytest.mark.parametrize("tail", [b'7,"open\n8,x\n', b'7,"a"b\n'])
def test_quotes_that_do_not_match(tail: bytes) -> None:
    reading = read_log_csv(b"frame,caption\n1,fine\n" + tail)
    assert reading.lines == () and "quotes don't match" in reading.faults[-1].sentence


def test_very_long_files_and_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "4001 characters" in read_log_csv(written(["frame", "caption"], ["7", "x" * 4001])).faults[0].sentence
    assert not read_log_csv(written(["frame", "caption"], ["7", "x" * 200_000])).usable
    for module in (frame_log, typed_log):
        monkeypatch.setattr(module, "MAX_LINES", 2)
    assert "more than 2 lines" in read_log_csv(b"frame\n1\n2\n3\n").faults[0].sentence
    with pytest.raises(InvalidInput, match="more than 2 lines"):
        read_log_lines("1\n2\n3\n4")


def test_nothing_but_a_header() -> None:
    reading = read_log_csv(b"frame,caption\n")
    assert not reading.usable and "no line with a frame" in reading.faults[0].sentence


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1/250", Fraction(1, 250)),
        (" 1/8000 s", Fraction(1, 8000)),
        ("2s", 2),
        ("0.5", Fraction(1, 2)),
        ("0,004", Fraction(1, 250)),
        ('4"', 4),
        ("1.5 sec", Fraction(3, 2)),
        ("2min", 120),
        ("3/2", Fraction(3, 2)),
    ],
)
def test_shutter_times(text: str, seconds: Fraction) -> None:
    assert parse_shutter(text) == (seconds, False)


def test_bulb_exposures() -> None:
    assert [parse_shutter(text) for text in ("B", "bulb", "T")] == [(None, True)] * 3
    assert read_log_csv(b"frame,shutter\n7,B\n").lines == (LogLine(2, ("7",), bulb=True),)


@pytest.mark.parametrize("text", ["", "250", "1/0", "0/5", "0", "0s", "fast", "1/250/3", "٢s", "-1s", "1e3s", "1/2 to 2"])
def test_shutter_times_that_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"Write 1/250 or 250s|Write for example 1/250"):
        parse_shutter(text)


def test_apertures() -> None:
    assert [parse_aperture(t) for t in ("f/5.6", "F8", "f 11", "ƒ/2,8", "16", " f/1.4 ")] == [5.6, 8, 11, 2.8, 16, 1.4]
    for text in ("", "f/", "wide", "f/5.6.7", "T2"):
        with pytest.raises(InvalidInput, match="not an aperture"):
            parse_aperture(text)


@pytest.mark.parametrize("text", ["24:00", "12:60", "2031-02-30 10:00", "2031-05-14 10:00+99:00", "10:00 pm", "noon"])
def test_times_that_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        parse_taken(text, date(2031, 5, 14))


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        (
            "7  1/250 f/5.6 50mm Ferry at the pier",
            {"shutter_s": Fraction(1, 250), "aperture": 5.6, "focal_length_mm": 50.0, "caption": "Ferry at the pier"},
        ),
        ("7 50mm f8 1/60s", {"shutter_s": Fraction(1, 60), "aperture": 8.0, "focal_length_mm": 50.0}),
        ("7", {}),
        ("7: The dog", {"caption": "The dog"}),
        ("7 The dog @ Lower Harbour # wet fur", {"caption": "The dog", "place": "Lower Harbour", "notes": "wet fur"}),
        ("7 2s # no tripod @ all", {"shutter_s": Fraction(2), "notes": "no tripod @ all"}),
        ("7 @ Pier", {"place": "Pier"}),
        ("7 -- 1/2 eaten apple", {"caption": "1/2 eaten apple"}),
        ("7 1/60 1/2 eaten apple", {"shutter_s": Fraction(1, 60), "caption": "1/2 eaten apple"}),
        ("7 2031-05-14T13:05 x", {"taken": "2031-05-14T13:05:00", "moment": datetime(2031, 5, 14, 13, 5), "caption": "x"}),
        ("7 2031-05-14 13:05:30 x", {"taken": "2031-05-14T13:05:30", "moment": datetime(2031, 5, 14, 13, 5, 30), "caption": "x"}),
        ("7 2031-05~ x", {"taken": "2031-05~", "caption": "x"}),
        ("7 13:05", {"taken": "2031-06-01T13:05:00", "moment": datetime(2031, 6, 1, 13, 5)}),
        ("7 bulb f/16 Stars", {"bulb": True, "aperture": 16.0, "caption": "Stars"}),
        ("7 3 dogs at f/8 #1 a@b", {"caption": "3 dogs at f/8 #1 a@b"}),
        ("7 日本語 🎞 =1+1", {"caption": "日本語 🎞 =1+1"}),
    ],
)  # fmt: skip
def test_typed_lines(typed: str, expected: dict[str, Any]) -> None:
    reading = read_log_lines(typed, day=date(2031, 6, 1))
    assert reading.faults == ()
    assert reading.lines == (replace(LogLine(1, ("7",)), **expected),)


def test_typed_in_bulk() -> None:
    reading = read_log_lines("00 first\r\n\r\n8-10,12A 1/30 three and a half\n36A\r37 last\n")
    assert [(entry.line, entry.frames) for entry in reading.lines] == [
        (1, ("00",)),
        (3, ("8", "9", "10", "12A")),
        (4, ("36A",)),
        (5, ("37",)),
    ]
    assert reading.faults == ()


def test_faults_in_typed_lines() -> None:
    reading = read_log_lines("ferry 1/250\n2 250 f/8 x\n3 13:05 99:99\n4\n4\n5 f/0.1\n# remark\n6 1/0 f/9999\n")
    assert reading.lines == ()
    told = {(fault.line, fault.sentence[:24]) for fault in reading.faults}
    assert {line for line, _ in told} == {1, 2, 3, 5, 6, 7, 8}
    assert any("1/250 s or 250 s" in fault.sentence for fault in reading.faults if fault.line == 2)
    assert any("between 0.5 and 1024, not 0.1" in fault.sentence for fault in reading.faults)
    assert not read_log_lines(" \n").usable


TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from(",;\t\"'\n"), max_size=30).map(str.strip)


@given(st.lists(st.tuples(TEXT, TEXT, TEXT), min_size=1, max_size=8), st.sampled_from(",;\t"))
def test_any_text_comes_back(rows: list[tuple[str, str, str]], delimiter: str) -> None:
    table = [[str(n), *row] for n, row in enumerate(rows, 1)]
    reading = read_log_csv(written(["frame", "caption", "place", "notes"], *table, delimiter=delimiter))
    assert [(entry.caption, entry.place, entry.notes) for entry in reading.lines] == rows


@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: ("frame,time,shutter\n" + text).encode(errors="replace")))
def test_no_file_brings_it_down(data: bytes) -> None:
    try:
        reading = read_log_csv(data)
    except InvalidInput:
        return
    assert bool(reading.lines) == reading.usable
    for entry in reading.lines:
        if entry.taken:
            parse_date(entry.taken)


@given(st.text(max_size=200))
def test_no_typed_text_brings_it_down(text: str) -> None:
    assert bool(read_log_lines(text).lines) == read_log_lines(text).usable


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"frames": ()}, "names no frame"),
        ({"taken": "soon"}, "not a date"),
        ({"shutter_s": Fraction(-1)}, "-1 s lies outside"),
        ({"aperture": float("nan")}, "not nan"),
        ({"focal_length_mm": 0.0}, "between 1 and 10000, not 0"),
        ({"notes": "x" * 4001}, "4001 characters"),
    ],
)
def test_impossible_lines_are_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        replace(FULL, **change)
