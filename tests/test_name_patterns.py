"""File names and the frames they say: patterns, suggestions, natural order, order of capture.

How people name scans is common practice, no published source; camera names follow the DCF standard.
"""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber, parse_frames
from catalogue.scans.match.capture_order import CapturedFile, capture_order
from catalogue.scans.match.name_patterns import NamePattern, NameRead, is_camera_name, says_roll, try_pattern
from catalogue.scans.match.pattern_suggestions import MAX_SUGGESTIONS, suggest_patterns
from catalogue.scans.read.file_kinds import natural_key

ROLL = "2031-014"
LABELS = parse_frames("00-36A")
COUNTED = range(1, 37)


@pytest.mark.parametrize(
    ("pattern", "name", "roll", "frame", "copy"),
    [
        ("{roll}_{frame}", "2031-014_23A.jpg", "2031-014", "23A", None),
        ("{roll}-{frame}", "2031014-07.tif", "2031014", "7", None),
        ("r{roll} f{frame}", "r14 f07", "14", "7", None),
        ("R{roll} F{frame}", "r14 f07.JPG", "14", "7", None),
        ("Frame {frame}[ ({copy})]", "Frame 7 (2).jpg", None, "7", "2"),
        ("Frame {frame}[ ({copy})]", "frame 7.jpg", None, "7", None),
        ("scan{frame}", "scan0007.jpg", None, "7", None),
        ("{frame}", "07.jpg", None, "7", None),
        ("{frame}", "00.jpg", None, "00", None),
        ("{frame}", "0.jpg", None, "0", None),
        ("{frame}", "36a.tif", None, "36A", None),
        ("{frame}", "S.tif", None, "S", None),
        ("{frame}_master", "23A_master.tif", None, "23A", None),
        ("{frame}_{copy}", "23A_master.tif", None, "23A", "master"),
        ("{frame}{any}", "23A_master.tif", None, "23A", None),
        ("{frame}{any}", "07bis.tif", None, "7", None),
        ("{any}{frame}", "harbour wall 0012.tif", None, "12", None),
        ("{number}_{frame}", "20310412_07.jpg", None, "7", None),
        ("2031014{frame}", "203101407.jpg", None, "7", None),
        ("{roll}.{frame}", "2031-014.07", "2031-014", "7", None),
        ("{frame}.tif", "07.tiff", None, "7", None),
        ("Prüfung {frame}", "Pru\u0308fung 7.jpg", None, "7", None),  # a decomposed ü, as some disks keep it
    ],
)
def test_names_are_read(pattern: str, name: str, roll: str | None, frame: str, copy: str | None) -> None:
    read = NamePattern.parse(pattern).read(name)
    assert read is not None
    assert (read.roll, str(read.frame), read.copy) == (roll, frame, copy)


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("{frame}", "IMG_4711.jpg"),
        ("{frame}", "12345.jpg"),
        ("{frame}", "٧.jpg"),
        ("{frame}", ".jpg"),
        ("{frame}", ""),
        ("{frame}.tif", "07.jpg"),
        ("{any}{frame}", "scans.jpg"),
        ("{roll}_{frame}", "harbour_07.jpg"),  # a roll number has a digit in it
        ("{frame}{any}", "12345.jpg"),  # no number is cut out of a longer one
        ("{frame}", "7" * 300),
    ],
)
def test_other_shapes_are_not_read(pattern: str, name: str) -> None:
    assert NamePattern.parse(pattern).read(name) is None


def test_the_roll_at_hand_decides_where_a_name_can_be_read_two_ways() -> None:
    pattern = NamePattern.parse("{roll}_{frame}[_{copy}]")
    assert pattern.read("2031_014_23A.jpg") == NameRead("2031", FrameNumber("14"), "23A", "014")
    assert pattern.read("2031_014_23A.jpg", ROLL) == NameRead("2031_014", FrameNumber("23A"), None, "23A")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not 0"),
        ("   ", "not 0"),
        ("{frame}" + "x" * 120, "not 127"),
        ("07", "doesn't say where the frame stands"),
        ("{roll}", "doesn't say where the frame stands"),
        ("{frame", "without its partner"),
        ("frame}", "without its partner"),
        ("{frame}]", "without its partner"),
        ("{frame}[a[b]]", "one inside another"),
        ("{frame}[ ({copy})", "doesn't close it"),
        ("{frm}", "“{frm}” is no field"),
        ("{}", "is no field"),
        ("{frame}_{frame}", "{frame} stands 2 times"),
        ("{roll}_{roll}_{frame}", "{roll} stands 2 times"),
        ("{any}_{any}_{any}_{any}_{frame}", "{any} stands 4 times"),
        ("a[{frame}]", "square brackets, which hold what may be missing"),
        ("{roll}{frame}", "Nothing parts {roll} and {frame}"),
        ("{roll}[_]{frame}", "Nothing parts {roll} and {frame}"),
        ("{any}{any}{frame}", "Nothing parts {any} and {any}"),
        ("{frame}{copy}", "Nothing parts {frame} and {copy}"),
        ("scans/{frame}", "slash"),
        ("a[b]c[d]e[f]g[h]{frame}", "4 parts that may be missing"),
    ],
)
def test_nonsense_is_refused_with_a_sentence(text: str, said: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        NamePattern.parse(text)
    assert said in str(refused.value)


@given(st.text(st.sampled_from("{}[]_ aframeollnyy07-."), max_size=30), st.text(st.characters(max_codepoint=0x2FF), max_size=40))
def test_any_text_is_read_or_refused(pattern: str, name: str) -> None:
    try:
        parsed = NamePattern.parse(pattern)
    except InvalidInput:
        return
    parsed.read(name)


def test_a_name_that_nearly_fits_in_many_ways_is_still_answered() -> None:
    pattern = NamePattern.parse("{any}_{any}_{roll}_{number}_{frame}_{any}_x")
    assert pattern.read("_1" * 125) is None


@given(
    st.sampled_from(LABELS),
    st.sampled_from(
        ["{roll}_{frame}", "r{roll} f{frame}", "{frame} of {roll}", "{roll}_{frame}_{copy}", "{any} {frame}[-{copy}]"]
    ),
)
def test_what_a_pattern_writes_it_reads(frame: FrameNumber, pattern: str) -> None:
    name = pattern.replace("[", "").replace("]", "")
    for field, value in (("roll", ROLL), ("frame", frame.text), ("copy", "v2"), ("any", "old pier")):
        name = name.replace(f"{{{field}}}", value)
    read = NamePattern.parse(pattern).read(name + ".tif", ROLL)
    assert read is not None and read.frame == frame
    assert read.roll == (ROLL if "{roll}" in pattern else None)
    assert read.copy == ("v2" if "{copy}" in pattern else None)


@pytest.mark.parametrize("written", ["2031-014", "2031014", "2031_14", "2031 014", "2031.14", "31-014", "31014", "014", "14"])
def test_usual_writings_of_a_roll_number(written: str) -> None:
    assert says_roll(written, ROLL)


@pytest.mark.parametrize("written", ["2031-015", "203114", "2031", "4", "114", "140", "2031-014b", "2030-014", ""])
def test_other_roll_numbers(written: str) -> None:
    assert not says_roll(written, ROLL)


@pytest.mark.parametrize(
    ("written", "roll"),
    [("r5", "R5"), ("R 005", "R5"), ("5", "R5"), ("2031-014B", "2031-014b"), ("14b", "2031-014b"), ("½", "½")],
)
def test_usual_writings_of_other_styles(written: str, roll: str) -> None:
    assert says_roll(written, roll)


# --- trying a pattern ---


def tried(pattern: str, *names: str, labels: tuple[FrameNumber, ...] = LABELS) -> list[tuple[str | None, bool, str]]:
    found = try_pattern(NamePattern.parse(pattern), names, ROLL, labels)
    assert [one.name for one in found] == list(names)
    return [(one.frame.text if one.frame else None, one.doubtful, one.reason) for one in found]


@pytest.mark.parametrize(
    ("meaning", "pattern", "names", "frame", "doubtful", "said"),
    [
        ("sure", "{roll}_{frame}", ["2031-014_7.jpg"], "7", False, "Frame 7."),
        ("another roll", "{roll}_{frame}", ["2031-015_7.jpg"], None, False, "It says roll 2031-015, and these files are for"),
        ("no such frame", "{frame}", ["77.jpg"], None, False, "It says frame 77, and this roll has no such frame."),
        ("perhaps a copy", "{frame}", ["07b.jpg"], None, False, "It may be a copy of frame 7."),
        ("not matched", "{roll}_{frame}", ["notes.txt"], None, False, "It doesn't fit {roll}_{frame}."),
        ("said twice", "{frame}[ {any}]", ["07 b.jpg", "07 c.jpg"], "7", True, "2 names say frame 7."),
        ("said twice, as 7 and 07", "{frame}", ["7.jpg", "07.jpg"], "7", True, "2 names say frame 7."),
        ("copies by their marks", "{frame}[_{copy}]", ["07.jpg", "07_2.jpg"], "7", False, "Frame 7."),
        ("one scan in two files", "{frame}", ["07.jpg", "07.TIF"], "7", False, "Frame 7."),
        ("a camera's count", "xyz_{frame}", ["XYZ_0007.jpg"], "7", True, "camera's own count"),
    ],
)
def test_a_pattern_is_tried(meaning: str, pattern: str, names: list[str], frame: str | None, doubtful: bool, said: str) -> None:
    for found in tried(pattern, *names):
        assert found[:2] == (frame, doubtful), meaning
        assert said in found[2]


def test_zeros_are_doubted_where_padding_hides_which_is_meant() -> None:
    assert tried("{frame}", "00.jpg", "0.jpg") == [("00", False, "Frame 00."), ("0", False, "Frame 0.")]
    assert tried("{frame}", "00.jpg", "01.jpg")[0][:2] == ("00", True)
    assert tried("{frame}", "000.jpg", "001.jpg")[0][:2] == ("0", True)
    assert tried("{frame}", "00.jpg", "01.jpg", labels=parse_frames("0-36"))[0][:2] == ("0", False)
    assert tried("{frame}", "00.jpg", "01.jpg", labels=parse_frames("1-36"))[0][0] is None


# --- suggestions ---


@pytest.mark.parametrize(
    ("names", "first"),
    [
        ([f"2031-014_{x}.jpg" for x in (*COUNTED, "36A")], "{roll}_{frame}"),
        ([f"2031014-{n:02}.tif" for n in COUNTED], "{roll}-{frame}"),
        ([f"2031_014_{n:02}.tif" for n in COUNTED] + ["2031_015_04.tif"], "{roll}_{frame}"),
        ([f"r14 f{n:02}.jpg" for n in COUNTED] + ["r15 f01.jpg"], "r{roll} f{frame}"),
        ([f"{n:02}-2031-014.jpg" for n in COUNTED], "{frame}-{roll}"),
        ([f"2031014{n:02}.jpg" for n in COUNTED], "2031014{frame}"),
        ([f"Frame {n}.jpg" for n in COUNTED] + ["Frame 7 (2).jpg"], "Frame {frame}[ ({copy})]"),
        ([f"scan{n:04}.jpg" for n in COUNTED], "scan{frame}"),
        ([f"{n:02}.jpg" for n in COUNTED], "{frame}"),
        ([f"{n}_master.tif" for n in COUNTED], "{frame}_master"),
        ([f"{n}_{word}.tif" for n in COUNTED for word in ("master", "small")], "{frame}_{copy}"),
        ([f"20310412_{n:02}.jpg" for n in COUNTED], "{number}_{frame}"),
        (["07_1.jpg", "07_2.jpg", "08_1.jpg", "09_1.jpg"], "{frame}_{copy}"),
        ([f"harbour at dawn {n}.jpg" for n in COUNTED], "harbour at dawn {frame}"),
        ([f"{word} {n}.jpg" for n, word in enumerate(("pier", "old boat", "gulls", "rain"), 1)], "{any}{frame}"),
    ],
)
def test_the_pattern_that_explains_the_names_comes_first(names: list[str], first: str) -> None:
    found = suggest_patterns(names, ROLL, LABELS)
    assert found[0].pattern == NamePattern(first)
    assert f"explains {found[0].explained} of {len(names)} names" in found[0].reason
    assert len(found) <= MAX_SUGGESTIONS
    mixed = names[:]
    random.Random(5).shuffle(mixed)
    assert suggest_patterns(mixed, ROLL, LABELS) == found


@pytest.mark.parametrize(
    "names",
    [
        [f"IMG_{n}.jpg" for n in range(4711, 4750)],
        [f"QXYZ{n:04}.jpg" for n in COUNTED],  # a camera's count that happens to pass the frames
        [f"_XY_{n:04}.jpg" for n in (9998, 9999, 1, 2)],
        [f"scan{n:04}.jpg" for n in range(112, 148)],
        ["2031-014.jpg", "notes.txt"],
        ["boats.jpg"],
    ],
)
def test_names_that_say_no_frame_are_matched_by_order(names: list[str]) -> None:
    (only,) = suggest_patterns(names, ROLL, LABELS)
    assert only.pattern is None and "by the order in which they were taken" in only.reason


def test_a_few_named_files_among_a_cameras_own_are_suggested_last() -> None:
    found = suggest_patterns([*(f"IMG_{n}.jpg" for n in range(4711, 4740)), "frame 7.jpg", "frame 8.jpg"], ROLL, LABELS)
    assert [one.pattern and one.pattern.text for one in found] == [None, "frame {frame}"]


def test_no_names_no_suggestions_and_a_large_folder_is_answered() -> None:
    assert suggest_patterns([], ROLL, LABELS) == ()
    names = [f"2031-014_{n % 36 + 1}_{n}.jpg" for n in range(2000)]
    assert suggest_patterns(names, ROLL, LABELS)[0].pattern == NamePattern("{roll}_{frame}_{copy}")


@given(st.lists(st.text(st.sampled_from("0123A_-. ()[]{}fr"), max_size=14), max_size=8))
def test_whatever_the_names_the_suggestions_can_be_applied(names: list[str]) -> None:
    for one in suggest_patterns(names, ROLL, LABELS):
        if one.pattern:
            sure = [t for t in try_pattern(one.pattern, names, ROLL, LABELS) if t.frame and not t.doubtful]
            assert len(sure) >= one.explained > 0


@pytest.mark.parametrize(
    ("name", "by_camera"),
    [
        # JEITA CP-3461: four free characters of A-Z, 0-9 and _, then 0001 to 9999 (from memory).
        ("IMG_4711.jpg", True),
        ("ABCD0001.JPG", True),
        ("_XY_9999.tif", True),
        ("abcd0001 (2).jpg", True),
        ("ABCD0000.jpg", False),
        ("ABCD12345.jpg", False),
        ("20310407.jpg", False),
        ("ABC0001.jpg", False),
        ("scan0007.jpg", False),  # a word a person writes, though of that shape
        ("film0007.jpg", False),
    ],
)
def test_camera_names(name: str, by_camera: bool) -> None:
    assert is_camera_name(name) is by_camera


# --- natural order and order of capture ---


def test_natural_order_is_a_persons_count() -> None:
    ordered = ["00.jpg", "0.jpg", "1.jpg", "2.JPG", "2.tif", "9.jpg", "10.jpg", "36.jpg", "36A.jpg"]
    ordered += ["Frame 7.jpg", "frame 7 (2).jpg", "FRAME 07b.jpg", "Frame 10.jpg", "Prüfung 2.jpg", "prüfung 10.jpg"]
    mixed = ordered[:]
    random.Random(1).shuffle(mixed)
    assert sorted(mixed, key=natural_key) == ordered
    assert natural_key("9" * 5000) > natural_key("8" * 5000)  # longer than int() reads


@given(st.lists(st.text(max_size=12)))
def test_natural_order_takes_any_names(names: list[str]) -> None:
    assert sorted(sorted(names, key=natural_key, reverse=True), key=natural_key) == sorted(names, key=natural_key)


@given(st.lists(st.integers(0, 10**12), unique=True))
def test_natural_order_of_numbers_is_their_order(numbers: list[int]) -> None:
    assert sorted((str(n) for n in numbers), key=natural_key) == [str(n) for n in sorted(numbers)]


def names_in_order(*files: CapturedFile) -> tuple[list[str], str]:
    found = capture_order(files)
    assert sorted(f.name for f in found.files) == sorted(f.name for f in files)
    return [f.name for f in found.files], found.used


@pytest.mark.parametrize(
    ("early", "late"),
    [
        ("2031:04:12 10:00:00", "2031:04:12 10:00:01"),
        ("2031-04-12T10:00:00", "2031-04-12 10:00:01"),
        ("2031-04-12T10:00:00.25", "2031-04-12T10:00:00.5"),
        ("2031-04-12T10:00:00+02:00", "2031-04-12T09:00:00Z"),
        ("2031-04-12T09:30:00Z", "2031-04-12T10:00:00"),  # one without a zone: clock times are compared
        ("2031-04-12", "2031:04:12 00:00:01"),
    ],
)
def test_dates_go_first_where_every_file_has_one(early: str, late: str) -> None:
    assert names_in_order(CapturedFile("1.jpg", late), CapturedFile("2.jpg", early)) == (["2.jpg", "1.jpg"], "dates")


@pytest.mark.parametrize("missing", [None, "", "0000:00:00 00:00:00", "2031:13:40 10:00:00", "yesterday"])
def test_one_missing_date_leaves_the_names(missing: str | None) -> None:
    files = (CapturedFile("10.jpg", "2031:04:12 10:00:00"), CapturedFile("9.jpg", missing))
    assert names_in_order(*files) == (["9.jpg", "10.jpg"], "names")
    assert "1 of 2 files tell no date" in capture_order(files).reason


def test_equal_dates_tell_nothing_and_ties_go_by_name_then_time_then_as_given() -> None:
    same = "2031:04:12 10:00:00"
    assert names_in_order(CapturedFile("10.jpg", same), CapturedFile("9.jpg", same)) == (["9.jpg", "10.jpg"], "names")
    burst = [CapturedFile("10.jpg", same), CapturedFile("9.jpg", same), CapturedFile("1.jpg", "2031:04:12 10:00:01")]
    assert names_in_order(*burst) == (["9.jpg", "10.jpg", "1.jpg"], "dates")
    twins = [CapturedFile("1.jpg", None, 5.0), CapturedFile("1.jpg", None, 3.0), CapturedFile("1.jpg", same, 3.0)]
    assert capture_order(twins).files == (twins[1], twins[2], twins[0])
    assert capture_order([]).files == ()


@pytest.mark.parametrize(
    ("meaning", "numbers", "ordered", "used"),
    [
        ("over the end", [1, 2, 9998, 9999], [9998, 9999, 1, 2], "names over 9999"),
        ("with pictures deleted at the end", [40, 41, 9950, 9951], [9950, 9951, 40, 41], "names over 9999"),
        ("no wrap", [4711, 4712, 4713], [4711, 4712, 4713], "names"),
        ("from the first to the last, evenly", [1, 1500, 3000, 4500, 6000, 7500, 9999], None, "names"),
        ("two far days, neither at the ends", [500, 501, 9000, 9001], [500, 501, 9000, 9001], "names"),
        ("one file", [9999], [9999], "names"),
    ],
)
def test_a_cameras_count_runs_over_9999(meaning: str, numbers: list[int], ordered: list[int] | None, used: str) -> None:
    files = [CapturedFile(f"IMG_{n:04}.jpg") for n in numbers]
    random.Random(2).shuffle(files)
    assert names_in_order(*files) == ([f"IMG_{n:04}.jpg" for n in ordered or numbers], used), meaning


def test_a_wide_hole_at_the_end_counts_as_wrapped_only_where_the_times_agree() -> None:
    late = [CapturedFile(f"IMG_{n:04}.jpg", None, 1000.0 + n) for n in (300, 301)]
    early = [CapturedFile(f"IMG_{n:04}.jpg", None, n / 100) for n in (9500, 9501)]
    assert capture_order([*late, *early]).used == "names over 9999"
    assert capture_order([*late, *(CapturedFile(f.name, None, 9999.0) for f in early)]).used == "names"


def test_each_prefix_counts_for_itself_and_plain_numbers_never_wrap() -> None:
    files = [CapturedFile(n) for n in ("ABCD0001.jpg", "ABCD9999.jpg", "EFGH0001.jpg", "EFGH0002.jpg")]
    assert names_in_order(*files)[0] == ["ABCD9999.jpg", "ABCD0001.jpg", "EFGH0001.jpg", "EFGH0002.jpg"]
    assert names_in_order(CapturedFile("9999.jpg"), CapturedFile("1.jpg")) == (["1.jpg", "9999.jpg"], "names")


@given(st.integers(1, 9999), st.integers(2, 90), st.randoms(use_true_random=False))
def test_a_run_of_a_cameras_names_is_restored_wherever_it_starts(start: int, count: int, rng: random.Random) -> None:
    names = [f"IMG_{(start + n - 1) % 9999 + 1:04}.jpg" for n in range(count)]
    files = [CapturedFile(name) for name in names]
    rng.shuffle(files)
    assert names_in_order(*files)[0] == names
