"""`link-margin study`: what is printed, stored and left as exit status."""

import csv
import io
import json

import pytest
from msgspec.structs import replace

from tests.studies.boards import run, section, with_lanes
from tests.studies.test_tolerances import two_near_lanes
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.studies import reach_search
from workbench.studies.registry import STUDIES


@pytest.fixture
def board_file(tmp_path):
    path = tmp_path / "shelf.board.json"
    save_board(with_lanes(section(), "D0", "D4"), path)
    return path


@pytest.fixture
def ask(board_file, capsys):
    """Runs a study; its exit status and what it printed."""

    def asked(basis, *options):
        status = main(["study", basis, str(board_file), "--workers", "1", *options])
        printed = capsys.readouterr()
        return status, printed.out, printed.err

    return asked


@pytest.mark.campaign
def test_settings_are_recommended_with_a_reason_and_written_to_a_board(ask, board_file, tmp_path):
    status, out, err = ask("settings", "--device", "U1", "--board-out", str(tmp_path / "set.board.json"))
    assert (status, err) == (0, "")
    assert "Recommended for U1" in out
    assert "all 8 combinations on every lane" in out
    assert "8 assessments in" in out
    assert max(map(len, out.splitlines())) <= 100
    edited, before = load_board(tmp_path / "set.board.json").board, load_board(board_file).board
    settings = edited.devices[0].settings
    assert f"U1: equalization {settings['equalization']}, swing unity, emphasis {settings['emphasis']}" in out
    assert edited.lanes == before.lanes


def test_a_table_holds_every_candidate(ask):
    _, out, _ = ask("settings", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 8
    assert sum(row["recommended"] == "1" for row in rows) == 1
    assert [int(row["rank"]) for row in rows] == list(range(1, 9))
    margins = [float(row["worst_margin_guards"]) for row in rows]
    assert margins == sorted(margins, reverse=True)


def test_an_answer_says_which_board_and_program_it_is_of(ask, board_file):
    _, out, _ = ask("settings", "--json", "--store")
    stored = board_file.with_name("shelf.settings.study.json").read_text(encoding="utf-8")
    assert stored == out
    plain = json.loads(stored)
    assert (plain["format"], plain["version"], plain["study"]) == ("link-margin-study", 1, "settings")
    assert plain["answer"]["made"]["board_sha256"] == load_board(board_file).sha256
    assert plain["answer"]["made"]["program"] == "0.2.0"


@pytest.mark.campaign
def test_a_lane_that_fails_in_the_answer_is_exit_status_1(board_file, capsys):
    board = load_board(board_file).board
    lane = board.lanes[0]
    longer = replace(lane, path=(run(3.0), *lane.path))
    save_board(replace(board, lanes=(longer,)), board_file)
    assert main(["study", "settings", str(board_file), "--workers", "1"]) == 1
    assert "fail" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--device", "U9"), 'no lane passes through "U9"'),
        (("--device", "U1", "--limit", "4"), "this takes 8 assessments"),
        (("--probe", "U5 input"), "has no probe point 'U5 input'"),
    ],
)
def test_what_cannot_be_answered_is_one_line_and_exit_status_2(ask, options, sentence):
    status, out, err = ask("settings", *options)
    assert (status, out) == (2, "")
    assert sentence in err
    assert err.count("\n") == 1


def test_a_number_of_workers_that_is_none_is_refused(board_file, capsys):
    assert main(["study", "settings", str(board_file), "--workers", "0"]) == 2
    assert "is not a number of 1 or more" in capsys.readouterr().err


@pytest.mark.campaign
def test_element_prints_curves_windows_and_whether_it_is_needed(ask, board_file, tmp_path):
    options = ("--device", "U1", "--from=-20 mm", "--to", "0.03", "--positions", "2")
    status, out, _ = ask("position", *options, "--board-out", str(tmp_path / "moved.board.json"))
    assert status == 0
    assert "U1 stands best" in out
    assert "window mm" in out
    assert "D0 needs no conditioner" in out
    assert max(map(len, out.splitlines())) <= 100
    moved, before = load_board(tmp_path / "moved.board.json").board, load_board(board_file).board
    assert moved.lanes[0].length_m == pytest.approx(before.lanes[0].length_m)
    _, out, _ = ask("position", *options, "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 3 * 4
    assert {float(row["shift_m"]) for row in rows} == {-0.02, 0.0, 0.03}
    _, out, _ = ask("position", *options, "--json")
    assert json.loads(out)["answer"]["device"] == "U1"


@pytest.mark.campaign
def test_reach_stands_passive_beside_conditioned(ask, board_file, tmp_path, monkeypatch):
    monkeypatch.setattr(reach_search, "_SCAN", 3)
    options = ("--run", "lossy:2", "--lane", "D0", "--longest", "400 mm")
    status, out, _ = ask("reach", *options, "--board-out", str(tmp_path / "long.board.json"))
    assert status == 0
    assert "passive mm" in out
    assert ">= 400.0" in out
    assert max(map(len, out.splitlines())) <= 100
    assert load_board(tmp_path / "long.board.json").board.lanes[0].path[2].length_m == 0.4
    _, out, _ = ask("reach", *options, "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["device"] for row in rows] == ["none", "U1"]
    assert float(rows[1]["reach_m"]) == 0.4


@pytest.mark.campaign
def test_corners_name_the_worst_and_what_deviates_there(ask):
    status, out, _ = ask("corners", "--tolerance", "loss=±10%", "impedance=±5% per layer", "--one-at-a-time")
    assert status == 0
    assert "6 corners, one at a time" in out
    assert "is worst with" in out
    assert max(map(len, out.splitlines())) <= 100
    _, out, _ = ask("corners", "--lane", "D4", "--tolerance", "loss=±10%", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [float(row["loss"]) for row in rows] == [0.0, -0.1, 0.1]


@pytest.mark.campaign
def test_yield_comes_with_its_interval_and_its_drivers(ask):
    status, out, _ = ask("yield", "--lane", "D4", "--tolerance", "loss=±10%", "--draws", "8")
    assert status in (0, 1)
    assert "yield of 8 draws, seed 1" in out
    assert "driven by loss (-" in out
    assert max(map(len, out.splitlines())) <= 100
    status, out, err = ask("yield", "--tolerance", "loss=±10%", "--draws", "2", "--board-out", "out.board.json")
    assert (status, out) == (2, "")
    assert "this answer changes nothing on the board" in err


@pytest.mark.campaign
def test_a_budget_says_what_would_help_most(ask):
    status, out, _ = ask("budget", "--lane", "D4")
    assert status == 0
    assert "would help it most" in out
    assert max(map(len, out.splitlines())) <= 100
    _, out, _ = ask("budget", "--lane", "D4", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["thing"] for row in rows][:2] == ["loss", "reflections"]


# --- at another gap between neighbours


@pytest.fixture
def near(tmp_path, capsys):
    """A study of two lanes side by side: its exit status and what it printed."""
    path = tmp_path / "near.board.json"
    save_board(two_near_lanes(3e-4), path)

    def asked(basis, *options):
        status = main(["study", basis, str(path), "--workers", "1", *options])
        printed = capsys.readouterr()
        return status, printed.out, printed.err

    return asked


@pytest.mark.campaign
def test_a_run_reaches_further_the_wider_the_gap(near, monkeypatch):
    monkeypatch.setattr(reach_search, "_SCAN", 4)
    monkeypatch.setattr(reach_search, "RESOLUTION_M", 0.02)
    line = two_near_lanes(3e-4).lanes[0].path[0].line
    _, out, err = near("reach", "--run", line, "--lane", "B", "--longest", "4 m", "--csv", "--gap", "0.2 mm", "1 mm")
    assert err == ""
    parts = out.split("At a gap of ")[1:]
    assert [one.split(" between", 1)[0] for one in parts] == ["200 \u00b5m", "1 mm"]
    tables = [list(csv.DictReader(io.StringIO(one.split("\n\n", 1)[1]))) for one in parts]
    narrow, wide = (float(rows[0]["reach_m"]) for rows in tables)
    assert wide > narrow + 0.05


def test_a_study_at_a_gap_is_that_of_the_board_with_it(near, tmp_path):
    _, out, _ = near("budget", "--lane", "B", "--json", "--gap", "0.5 mm")
    save_board(two_near_lanes(5e-4), tmp_path / "near.board.json")
    _, own, _ = near("budget", "--lane", "B", "--json")
    one, other = (json.loads(text)["answer"]["lanes"] for text in (out, own))
    assert one == other


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--gap", "1 m"), "a gap of 1 m is none that neighbours have"),
        (("--gap", "0.2 mm", "0.4 mm", "--json"), "of several gaps there are several answers"),
    ],
)
def test_a_gap_that_cannot_be_asked_of_is_one_sentence(near, options, words):
    status, _, err = near("budget", "--lane", "B", *options)
    assert status == 2
    assert words in err


def test_a_board_without_neighbours_has_no_gap(ask):
    assert "no lanes of the board lie beside one another" in ask("settings", "--gap", "0.4 mm")[2]


@pytest.mark.parametrize("study", STUDIES, ids=lambda one: one.word)
def test_every_study_may_be_asked_at_a_gap(study, capsys):
    assert main(["study", study.word, "--help"]) == 0
    assert "--gap D [D ...]" in capsys.readouterr().out
