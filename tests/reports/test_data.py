"""JSON and CSV: what other people's scripts hold on to."""

import csv
import io
import json

import msgspec

from tests.reports.conftest import lane_of
from workbench.board.library import builtin_profiles
from workbench.board.profile import Profile
from workbench.engine.assessment import Assessment, LimitsResult
from workbench.reports.data import COLUMNS, assessment_csv, assessment_json, profiles_json

# Keys of the published description of the format, in its order; others may be added, none may go.
LANE_KEYS = (
    "lane", "profile", "rate_bps", "nyquist_hz", "loss_db", "spans", "delay_s", "pulse", "eye", "limits", "margin",
    "findings",
)  # fmt: skip
NESTED_KEYS = {
    "pulse": {"probe", "ui_s", "samples_per_ui", "peak_v", "peak_s", "cursors_v"},
    "eye": {"probe", "ber", "height_v", "width_s", "width_ui", "worst_case_height_v", "center_s"},
    "limits": {"height_v", "width_ui"},
    "margin": {"height_v", "width_ui", "verdict"},
}


def test_json_has_the_keys_of_the_format_in_order(section: Assessment) -> None:
    found = json.loads(assessment_json(section))
    assert list(found)[:2] == ["format", "version"]
    assert found["format"] == "link-margin-assessment"
    assert {"board", "board_sha256", "program", "lanes"} <= set(found)
    lane = found["lanes"][2]
    assert [key for key in lane if key in LANE_KEYS] == list(LANE_KEYS)
    for key, wanted in NESTED_KEYS.items():
        assert wanted <= set(lane[key])
    assert set(lane["spans"][0]) == {"from", "to", "loss_db", "return_loss_db", "delay_s"}
    assert set(lane["findings"][0]) == {"severity", "rule", "text"}


def test_json_gives_back_the_very_numbers(section: Assessment) -> None:
    text = assessment_json(section)
    assert msgspec.json.decode(text, type=Assessment) == section
    assert '\n  "board": "Correlator shelf"' in text
    assert text.endswith("}\n")
    assert "4.0567" in text


def test_json_leaves_out_a_limit_that_is_not_known(section: Assessment) -> None:
    lane = lane_of("D0", limits=LimitsResult(height_v=0.12))
    found = json.loads(assessment_json(msgspec.structs.replace(section, lanes=(lane,))))["lanes"][0]
    assert "width_ui" not in found["limits"]
    assert "width_ui" not in found["margin"]


def test_profiles_as_json_are_what_a_board_takes() -> None:
    profiles = tuple(builtin_profiles().values())
    assert msgspec.json.decode(profiles_json(profiles), type=tuple[Profile, ...]) == profiles


def test_csv_has_a_row_a_lane_under_named_units(section: Assessment) -> None:
    rows = list(csv.DictReader(io.StringIO(assessment_csv(section))))
    assert [row["lane"] for row in rows] == ["D0", "D1", "D2", "D3", "D4"]
    assert float(rows[3]["height_v"]) == section.lanes[3].eye.height_v
    assert rows[3]["first_finding"] == "The eye is closed at the receiver."
    assert rows[0]["first_finding"] == ""
    assert rows[0]["ctle_dc_gain_db"] == ""
    assert all(len(row) == len(COLUMNS) for row in rows)


def test_csv_quotes_what_would_break_a_row(section: Assessment) -> None:
    odd = msgspec.structs.replace(section, lanes=(lane_of('a,"b"\nc'),))
    rows = list(csv.DictReader(io.StringIO(assessment_csv(odd))))
    assert [row["lane"] for row in rows] == ['a,"b"\nc']
