import re

import msgspec
import pytest

from tests.reports.conftest import CLOSED, LOSSY, lane_of
from workbench.engine.assessment import Assessment, Finding, LimitsResult
from workbench.layout import clipped, safe, shortened, width_of
from workbench.reports.text import assessment_text
from workbench.reports.wording import CAUTION, first_finding, ratio_text, summary, worst_lane

ANSI = re.compile(r"\x1b\[[\d;]*m")


def row_of(text: str, lane: str) -> str:
    return next(line for line in text.splitlines() if re.match(rf"[+!x]  {lane}\b", line))


def test_a_row_says_length_loss_eye_margins_verdict_and_first_finding(section: Assessment) -> None:
    row = row_of(assessment_text(section), "D2").split(maxsplit=9)
    assert row[:9] == ["!", "D2", "304.8", "4.1", "125.1", "0.335", "+5.1", "+0.015", "marginal"]
    assert row[9].startswith("14.2 dB at Nyquist")


def test_the_first_finding_is_the_severest(section: Assessment) -> None:
    assert first_finding(section.lanes[3]) == CLOSED
    assert first_finding(section.lanes[2]) == LOSSY
    assert first_finding(section.lanes[0]) is None


def test_columns_stand_under_each_other(section: Assessment) -> None:
    lines = assessment_text(section).splitlines()
    rows = [line for line in lines if re.match(r"[+!x]  D", line)]
    ends = {re.search(r"\d (?= *(pass|marginal|fail))", row).end() for row in rows}  # type: ignore[union-attr]
    assert len(rows) == len(section.lanes)
    assert len(ends) == 1
    heads = next(line for line in lines if line.startswith("   lane"))
    assert {row.index(word) for row, word in zip(rows, ("pass", "pass", "marginal", "fail", "fail"), strict=True)} == {
        heads.index("verdict")
    }


@pytest.mark.parametrize("columns", [72, 80, 100, 160])
def test_nothing_is_wider_than_asked(section: Assessment, columns: int) -> None:
    text = ANSI.sub("", assessment_text(section, columns=columns, colour=True))
    assert max(map(width_of, text.splitlines())) <= columns


def test_long_and_wide_names_keep_the_table_straight(section: Assessment) -> None:
    lanes = (lane_of("D" * 40), lane_of("観測室の長い長い長い回線"), lane_of("e\u0301te\u0301"))
    text = assessment_text(msgspec.structs.replace(section, lanes=lanes), columns=80)
    rows = [line for line in text.splitlines() if line.startswith("+")]
    assert {width_of(row[: row.index("pass")]) for row in rows} == {width_of(rows[0][: rows[0].index("pass")])}
    assert f"{'D' * 9}...{'D' * 8}" in rows[0]


def test_colour_changes_nothing_but_colour(section: Assessment) -> None:
    coloured = assessment_text(section, colour=True)
    assert "\x1b[" in coloured
    assert ANSI.sub("", coloured) == assessment_text(section)
    assert "\x1b[32mpass\x1b[0m" in coloured
    assert "\x1b[31;1mfail\x1b[0m" in coloured


def test_text_from_the_file_cannot_command_the_terminal(section: Assessment) -> None:
    evil = msgspec.structs.replace(section, board="\x1b]0;owned\x07", lanes=(lane_of("D\x1b[2J\n0"),))
    text = assessment_text(evil)
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "D?[2J 0" in text


def test_the_summary_counts_verdicts_and_names_the_worst(section: Assessment) -> None:
    assert summary(section) == "5 lanes: 2 pass, 1 marginal, 2 fail; worst D3 (-171 mV, -0.32 UI) at BER 1e-12"


def test_the_worst_lane_is_worst_against_its_own_limit() -> None:
    # 30 mV short of 325 mV (9 %) is less bad than 10 mV short of 25 mV (40 %).
    first = lane_of("A", height_v=0.295, verdict="fail", limits=LimitsResult(height_v=0.325))
    second = lane_of("B", height_v=0.015, verdict="fail", limits=LimitsResult(height_v=0.025))
    assert worst_lane((first, second)) is second
    assert worst_lane(()) is None


def test_a_board_without_lanes_says_so(section: Assessment) -> None:
    assert "0 lanes: the board has nothing to assess" in assessment_text(msgspec.structs.replace(section, lanes=()))


def test_like_findings_stand_once_with_all_their_lanes_and_errors_first(section: Assessment) -> None:
    lines = assessment_text(section).splitlines()
    at = lines.index("Findings")
    assert lines[at + 1] == "  error    D3, D4: The eye is closed at the receiver."
    assert lines[at + 2].startswith("  warning  D2, D3, D4: 14.2 dB at Nyquist")
    assert lines[at + 3] == "  note     D1, D2: A value was taken as given by the catalogue."


def test_findings_that_differ_in_figures_only_stand_once_with_the_first_ones(section: Assessment) -> None:
    lanes = tuple(
        lane_of(name, findings=(Finding(severity="warning", rule="compression", text=f"U{n} compresses by {n}.5 dB"),))
        for n, name in enumerate(("RX0", "RX1", "RX2"), start=1)
    )
    text = " ".join(assessment_text(msgspec.structs.replace(section, lanes=lanes)).split())
    assert "RX0, RX1, RX2: U1 compresses by 1.5 dB (figures of RX0)" in text
    assert "2.5 dB (figures" not in text


def test_the_report_says_what_was_judged_by_and_the_caution(section: Assessment) -> None:
    text = assessment_text(section)
    assert text.count("eye height 120 mV (an invented document)") == 1
    assert CAUTION in " ".join(text.split())


def test_a_limit_that_is_not_known_is_a_dash(section: Assessment) -> None:
    lane = lane_of("D0", limits=LimitsResult(height_v=0.12))
    row = row_of(assessment_text(msgspec.structs.replace(section, lanes=(lane,))), "D0").split()
    assert row[6:8] == ["+292.3", "-"]


def test_profiles_have_a_column_only_where_lanes_differ(section: Assessment) -> None:
    mixed = msgspec.structs.replace(section, lanes=(lane_of("D0"), lane_of("S0", profile="sata-2")))
    assert "profile" not in assessment_text(section).splitlines()[2]
    assert "profile" in assessment_text(mixed).splitlines()[2]
    assert row_of(assessment_text(mixed), "S0").split()[2] == "sata-2"


def test_long_names_that_begin_alike_are_told_apart_by_their_ends(section: Assessment) -> None:
    names = [f"CORRELATOR_INPUT_CARD_RX_{number}" for number in range(3)]
    text = assessment_text(msgspec.structs.replace(section, lanes=tuple(lane_of(name) for name in names)))
    shown = {word for line in text.splitlines() for word in line.split() if word.startswith("CORREL") and "..." in word}
    assert len(shown) == 3
    assert all(width_of(one) <= 20 and one.endswith(name[-3:]) for one, name in zip(sorted(shown), names, strict=True))
    assert shortened("abcdefghij", 9) == "abc...hij"
    assert shortened("abcdef", 6) == "abcdef"
    assert width_of(shortened("観測室観測室観測室", 12)) <= 12


def test_clipping_keeps_to_the_columns() -> None:
    assert clipped("abcdef", 6) == "abcdef"
    assert clipped("abcdefg", 6) == "abc..."
    assert width_of(clipped("観測室観測室", 8)) <= 8
    assert safe("a\tb\x00") == "a b?"


@pytest.mark.parametrize(("ratio", "text"), [(1e-9, "1e-9"), (1e-12, "1e-12"), (1e-3, "0.001")])
def test_error_ratios_read_as_people_write_them(ratio: float, text: str) -> None:
    assert ratio_text(ratio) == text
