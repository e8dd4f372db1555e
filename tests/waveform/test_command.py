"""`link-margin waveform`: what it says, writes and refuses, with its exit status."""

import csv
import json

import pytest

from tests.lanes import lane_board, trace
from workbench.board.writing import dump_board
from workbench.cli import main
from workbench.reports.waveform import COLUMNS, ratio_text

FEW = ("--bits", "2000", "--pattern", "prbs9")


@pytest.fixture
def board(tmp_path):
    file = tmp_path / "shelf.board.json"
    jitter = {"random_jitter_s": 2e-12, "deterministic_jitter_s": 1e-11}
    file.write_bytes(dump_board(lane_board((trace(0.3, "lossy"),), transmitter=jitter, receiver={"noise_v": 3e-3})))
    return file


@pytest.fixture
def asked(board, capsys):
    def ask(*words, few=FEW):
        status = main(["waveform", str(board), "--lane", "D0", *few, *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return ask


def test_text_says_what_was_counted_how_and_beside_what(asked):
    status, out, err = asked()
    assert (status, err) == (0, "")
    for words in (
        "D0, invented, at receiver: 2000 symbols of PRBS 9, seed 1",
        "0 errors in 2000 symbols: BER below 0.0018 with 95 % confidence",
        "counted", "extrapolated (Q scale)", "statistical, independent bits", "Crossings:",
        "The clock follows what is slower than 3 MHz, common practice where a profile says nothing",
    ):  # fmt: skip
        assert words in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 100


def test_json_has_every_figure(asked):
    status, out, _ = asked("--json", "--probe", "pins", "--seed", "7", "--ber", "1e-6")
    found = json.loads(out)
    assert status == 0
    assert (found["format"], found["version"]) == ("link-margin-waveform", 1)
    assert (found["lane"], found["probe"], found["seed"], found["pattern"]) == ("D0", "pins", 7, "PRBS 9")
    assert found["errors"]["symbols"] == 2000
    assert {(one["method"], one["error_ratio"]) for one in found["openings"]} == {
        ("counted", 0.01), ("extrapolated", 0.01), ("extrapolated", 1e-6), ("statistical", 0.01), ("statistical", 1e-6),
    }  # fmt: skip
    assert found["openings"][0]["height_v"] == pytest.approx(0.6, abs=0.3)
    assert found["complete"]
    assert found["doubt"] is None


def test_the_curves_go_to_a_table(asked, tmp_path):
    table = tmp_path / "curves.csv"
    assert asked("--csv", str(table))[0] == 0
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert tuple(rows[0]) == COLUMNS
    density = [row for row in rows if row["what"] == "density"]
    assert sum(int(row["value"]) for row in density) == 2000 * 16
    assert all(abs(float(row["level_v"])) < 0.8 for row in density)
    ratios = [float(row["value"]) for row in rows if row["what"] == "BER"]
    assert min(ratios) == 0.0
    assert ratios[0] == pytest.approx(0.25, abs=0.03)
    assert sum(int(row["value"]) for row in rows if row["what"] == "crossings") == pytest.approx(1000, abs=60)


def test_jitter_can_be_asked_for(asked):
    still = json.loads(asked("--json", "--fixed-clock")[1])
    more = ("--sine-jitter", "40 ps", "--sine-frequency", "50 MHz", "--duty-cycle", "8 ps")
    moved = json.loads(asked("--json", "--fixed-clock", *more)[1])
    # 20 ps / sqrt(2) and 4 ps on top of what was there.
    expected = (still["jitter"]["rms_s"] ** 2 + 2e-11**2 / 2.0 + 4e-12**2) ** 0.5
    assert moved["jitter"]["rms_s"] == pytest.approx(expected, rel=0.03)
    assert moved["clock_corner_hz"] == 0.0


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--pattern", "bits:"), "the pattern holds no bit"),
        (("--pattern", "bits:01x"), "the pattern holds 'x' in line 1; write it in zeros and ones"),
        (("--pattern", "bits:0"), "the pattern never changes"),
        (("--bits", "0"), '"0" is not a number of bits; write one such as 1e6'),
        (("--bits", "many"), '"many" is not a number of bits'),
        (("--bits", "12.5"), '"12.5" is not a number of bits'),
        (("--bits", "10"), "10 bits can't be sent; write a number from 1000 to 1e+10"),
        (("--bits", "1e15"), "1000000000000000 bits can't be sent"),
        (("--lane", "D7"), 'there is no lane "D7"; write "D0"'),
        (("--probe", "moon"), "lane D0 has no probe point 'moon'; it has transmitter"),
        (("--seed", "-1"), '"-1" is not a seed; write a whole number from 0 on'),
        (("--sine-jitter", "3 V"), "has a unit that doesn't fit"),
        (("--duty-cycle", "-3 ps"), "--duty-cycle \"-3 ps\" is negative; write a number from 0 on"),
        (("--csv", "missing/curves.csv"), "can't be written: its folder is not there"),
        (("--ber", "2"), "is not a BER"),
    ],
)  # fmt: skip
def test_bad_input_gets_one_sentence(asked, words, sentence):
    status, out, err = asked(*words)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert sentence in err


@pytest.mark.parametrize(("ratio", "text"), [(1e-4, "1e-4"), (2.5e-12, "2.5e-12"), (0.1, "1e-1"), (1e-15, "1e-15")])
def test_error_ratios_are_powers_of_ten(ratio, text):
    assert ratio_text(ratio) == text
