"""The command line with the engine's answer given by hand: what is read, said, and left as exit status."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import msgspec
import pytest

from tests.reports.conftest import lane_of
from tests.thinning import some
from workbench.board.library import builtin_profiles, starter_catalogues
from workbench.board.reading import load_board
from workbench.board.starting import starting_board
from workbench.board.writing import dump_board, save_board
from workbench.cli import main
from workbench.cli.progress import PLAIN_S, QUIET_S, ProgressLine
from workbench.cli.terminal import colour_wanted, why_no_window
from workbench.engine.assessment import Assessment
from workbench.errors import ProbePointError


class Engine:
    """Stands for the engine: answers with invented lanes, remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: dict[str, Any] = {}
        self.verdict = "pass"
        self.raises: BaseException | None = None

    def assess_board(self, board: Any, **asked: Any) -> Assessment:
        self.asked = asked
        if self.raises is not None:
            raise self.raises
        names = asked["lanes"] or tuple(lane.name for lane in board.lanes)
        lanes = tuple(lane_of(name, verdict=self.verdict) for name in names)  # type: ignore[arg-type]
        return Assessment(board=board.title, board_sha256=asked["sha256"], program="0.2.0", lanes=lanes)


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> Engine:
    answering = Engine()
    module = ModuleType("workbench.engine.assess")
    module.assess_board = answering.assess_board  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "workbench.engine.assess", module)
    return answering


@pytest.fixture
def board_file(tmp_path: Path) -> Path:
    path = tmp_path / "shelf.board.json"
    board = starting_board(builtin_profiles()["pcie-2"], [starter_catalogues()["mid-loss-board"]], title="Shelf")
    path.write_bytes(dump_board(board))
    return path


@pytest.fixture
def in_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


Said = Callable[[], tuple[str, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    def read() -> tuple[str, str]:
        captured = capsys.readouterr()
        return captured.out, captured.err

    return read


@pytest.mark.parametrize(("verdict", "status"), [("pass", 0), ("not judged", 1), ("marginal", 1), ("fail", 1)])
def test_exit_status_says_whether_every_lane_passes(
    engine: Engine, board_file: Path, verdict: str, status: int
) -> None:
    engine.verdict = verdict
    assert main(["assess", str(board_file)]) == status


def test_assess_prints_the_table_and_asks_for_the_files_own_hash(engine: Engine, board_file: Path, said: Said) -> None:
    assert main(["assess", str(board_file)]) == 0
    out, err = said()
    assert "+  L0" in out
    assert err == ""
    assert "\x1b" not in out
    assert engine.asked["sha256"] == load_board(board_file).sha256
    assert (engine.asked["probe"], engine.asked["ber"], engine.asked["lanes"]) == ("receiver", None, None)


def test_lane_look_and_error_ratio_reach_the_engine(engine: Engine, board_file: Path) -> None:
    assert main(["assess", str(board_file), "--lane", "L0", "L0", "--probe", "pins", "--ber", "1e-15"]) == 0
    assert (engine.asked["probe"], engine.asked["ber"], engine.asked["lanes"]) == ("pins", 1e-15, ("L0",))


def test_json_and_csv_are_chosen_by_a_word(engine: Engine, board_file: Path, said: Said) -> None:
    assert main(["assess", str(board_file), "--json"]) == 0
    assert json.loads(said()[0])["lanes"][0]["lane"] == "L0"
    assert main(["assess", str(board_file), "--csv"]) == 0
    assert said()[0].startswith("lane,profile,rate_bps,")


def test_a_file_alone_is_assessed_where_there_is_no_window(
    engine: Engine, board_file: Path, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workbench.cli.terminal.why_no_window", lambda: "there is no display")
    assert main([str(board_file)]) == 0
    assert "+  L0" in said()[0]


def test_without_arguments_the_demo_board_is_shown_and_that_is_a_success(
    engine: Engine, board_file: Path, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workbench.resources.project", lambda name: board_file)
    monkeypatch.setattr("workbench.cli.terminal.why_no_window", lambda: "there is no display")
    engine.verdict = "fail"
    assert main([]) == 0
    first, *rest = said()[0].splitlines()
    assert first.startswith("No window: there is no display.")
    assert any(line.startswith("x  L0") for line in rest)


def test_the_window_opens_where_there_is_one(board_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[Path | None] = []
    window = ModuleType("workbench.desk")
    window.main = lambda path, pages: opened.append(path) or 0  # type: ignore[attr-defined, func-returns-value]
    monkeypatch.setitem(sys.modules, "workbench.desk", window)
    monkeypatch.setattr("workbench.cli.terminal.why_no_window", lambda: None)
    assert main([]) == 0
    assert main([str(board_file)]) == 0
    assert opened == [None, board_file]


BAD_WORDS = [
    (["assess"], "the following arguments are required: FILE; see link-margin assess --help"),
    (["asess"], "'asess' is neither a command nor a file; the commands are assess, check, new, profiles"),
    (["assess", "no.board.json"], 'there is no file "no.board.json"'),
    (["no.board.json"], 'there is no file "no.board.json"'),
    (["assess", "."], "is a folder"),
    (["check", "no.board.json"], 'there is no file "no.board.json"'),
    (["assess", "f", "--ber", "0"], "'0' is not a BER from 1e-18 to 0.001"),
    (["assess", "f", "--ber", "nan"], "'nan' is not a BER"),
    (["assess", "f", "--json", "--csv"], "not allowed with argument --json"),
    (["profiles", "pcie-9"], 'there is no profile "pcie-9"; write "pcie-'),
    (["new", "x.json", "--profile", "sata"], 'there is no profile "sata"; write "sata-'),
    (["new", "x.json", "--starter", "midloss-board"], 'there is no starter "midloss-board"; write "mid-loss-board"'),
    (["new", "x.json", "--starter", "mid-loss-board", "plain-board"], "two starters define"),
    (["new", "no/such/folder/x.json"], "does not exist"),
    (["--no-such-option"], "see link-margin --help"),
    (["assess", "f", "--no-such-option"], "see link-margin"),
]


@pytest.mark.parametrize(("words", "says"), BAD_WORDS, ids=[" ".join(words) for words, _ in BAD_WORDS])
def test_what_cannot_be_done_is_one_line_and_exit_status_2(
    words: list[str], says: str, said: Said, in_folder: Path, engine: Engine
) -> None:
    assert main(words) == 2
    out, err = said()
    assert out == ""
    assert err.startswith("link-margin: ")
    assert says in err
    assert err.count("\n") == 1
    assert list(in_folder.iterdir()) == []


def test_a_lane_that_is_not_there_is_refused_with_those_that_are(engine: Engine, board_file: Path, said: Said) -> None:
    assert main(["assess", str(board_file), "--lane", "D9"]) == 2
    assert said()[1] == 'link-margin: there is no lane "D9"; write "L0"\n'


def test_what_the_engine_refuses_is_one_line(engine: Engine, board_file: Path, said: Said) -> None:
    engine.raises = ProbePointError("L0 has no probe point; it has receiver")
    assert main(["assess", str(board_file), "--probe", "nowhere"]) == 2
    assert said() == ("", "link-margin: L0 has no probe point; it has receiver\n")


def test_an_interrupt_leaves_quietly(engine: Engine, board_file: Path, said: Said) -> None:
    engine.raises = KeyboardInterrupt()
    assert main(["assess", str(board_file)]) == 130
    assert said() == ("", "")


def test_check_says_that_a_board_is_sound(board_file: Path, said: Said) -> None:
    assert main(["check", str(board_file)]) == 0
    assert said()[0].endswith("is valid: 1 lane, 0 devices, profile pcie-2\n")


def test_check_says_all_that_is_wrong_a_line_each(board_file: Path, said: Said) -> None:
    plain = json.loads(board_file.read_text())
    plain["lanes"][0]["path"][0]["length_m"] = -1.0
    plain["lanes"][0]["transmitter"] = 5
    board_file.write_text(json.dumps(plain))
    assert main(["check", str(board_file)]) == 2
    out, err = said()
    assert out == ""
    lines = err.splitlines()
    assert len(lines) == 2
    assert any("$.lanes[0].path[0].length_m" in line for line in lines)
    assert any("$.lanes[0].transmitter" in line for line in lines)


def test_new_writes_a_board_that_reads_again_and_replaces_none(in_folder: Path, said: Said) -> None:
    assert main(["new", "my.board.json"]) == 0
    board = load_board("my.board.json").board
    assert (board.title, board.profile, len(board.lanes)) == ("my", "pcie-2", 1)
    before = Path("my.board.json").read_bytes()
    said()
    assert main(["new", "my.board.json", "--profile", "sata-3"]) == 2
    assert "is there already" in said()[1]
    assert Path("my.board.json").read_bytes() == before
    assert main(["new", "my.board.json", "--profile", "sata-3", "--title", "Bay", "--force"]) == 0
    assert (load_board("my.board.json").board.profile, load_board("my.board.json").board.title) == ("sata-3", "Bay")


@pytest.mark.parametrize("starter", sorted(starter_catalogues()))
def test_new_begins_with_any_starter(starter: str, in_folder: Path) -> None:
    assert main(["new", "x.board.json", "--starter", starter]) == 0
    assert load_board("x.board.json").board.lanes[0].path


@pytest.mark.parametrize("profile_id", sorted(builtin_profiles()))
def test_every_profile_has_a_starting_board_within_its_swing(profile_id: str) -> None:
    profile = builtin_profiles()[profile_id]
    board = starting_board(profile, [starter_catalogues()["cable-assembly"]], title="x")
    assert dump_board(board)
    driver = board.catalogue.transmitters[0]
    for bound, sign in ((profile.swing_min_v, 1.0), (profile.swing_max_v, -1.0)):
        assert bound is None or sign * (driver.swing_v - bound.value) >= 0.0
    # Where the standard states the transmitter's jitter, and the receiver's package, the ends have them.
    stated, receiver = profile.transmitter, board.catalogue.receivers[0]
    if stated is not None and stated.random_jitter_s is not None:
        assert driver.random_jitter_s == pytest.approx(stated.random_jitter_s.value, rel=5e-3)
    assert (receiver.package == "reference") == (profile.package is not None and profile.limits.at == "equalized")
    assert (driver.taps_from == "best-preset") == bool(profile.presets)


def test_profiles_are_listed_and_shown_one_by_one(said: Said) -> None:
    assert main(["profiles"]) == 0
    assert "pcie-2" in said()[0]
    assert main(["profiles", "pcie-2"]) == 0
    assert "eye height" in said()[0]
    assert main(["profiles", "pcie-2", "--json"]) == 0
    assert [profile["id"] for profile in json.loads(said()[0])] == ["pcie-2"]


@pytest.mark.parametrize("words", ["--help", "assess --help", "new -h", "check -h", "profiles -h"])
def test_help_has_an_example_and_fits_the_terminal(
    words: str, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(words.split()) == 0
    out, _ = said()
    assert "link-margin " in out
    assert max(map(len, out.splitlines())) <= 100


def test_version_names_the_program(said: Said) -> None:
    assert main(["--version"]) == 0
    assert said()[0] == "link-margin 0.2.0\n"


class Terminal:
    """A stream that says it is a terminal, or not."""

    def __init__(self, *, is_terminal: bool) -> None:
        self.is_terminal = is_terminal
        self.written = ""

    def isatty(self) -> bool:
        return self.is_terminal

    def write(self, text: str) -> int:
        self.written += text
        return len(text)

    def flush(self) -> None:
        """Nothing is held back."""


@pytest.mark.parametrize(
    ("is_terminal", "environment", "wanted"),
    [
        (True, {"TERM": "xterm"}, True),
        (True, {"TERM": "xterm", "NO_COLOR": "1"}, False),
        (True, {"TERM": "xterm", "NO_COLOR": ""}, True),  # no-color.org: an empty value does not count
        (True, {"TERM": "dumb"}, False),
        (True, {}, False),
        (False, {"TERM": "xterm"}, False),
    ],
)
def test_colour_is_for_terminals_that_have_it(is_terminal: bool, environment: dict[str, str], wanted: bool) -> None:
    assert colour_wanted(Terminal(is_terminal=is_terminal), environment) is wanted  # type: ignore[arg-type]


def test_progress_shows_on_a_terminal_after_a_while_and_is_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter((0.0, QUIET_S / 2.0, QUIET_S, QUIET_S))
    monkeypatch.setattr("workbench.cli.progress.time.monotonic", lambda: next(clock))
    terminal = Terminal(is_terminal=True)
    with ProgressLine(terminal) as progress:  # type: ignore[arg-type]
        progress.show(1, 64)
        assert terminal.written == ""
        progress.show(32, 64)
        assert terminal.written.endswith("32 of 64 lanes")
    assert terminal.written.endswith("\r\x1b[K")


def test_without_a_terminal_progress_is_a_plain_line_from_time_to_time(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter((0.0, PLAIN_S / 2.0, PLAIN_S, 1.5 * PLAIN_S, 2.5 * PLAIN_S))
    monkeypatch.setattr("workbench.cli.progress.time.monotonic", lambda: next(clock))
    stream = Terminal(is_terminal=False)
    with ProgressLine(stream) as progress:  # type: ignore[arg-type]
        for done in (1, 2, 3):
            progress.show(done, 64)
        progress.show(4, 64, 30.0)
    assert stream.written == "2 of 64 lanes\n4 of 64 lanes, 30 s left\n"


def test_a_window_needs_a_display_that_listens(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("workbench.cli.terminal.sys.platform", "linux")
    monkeypatch.setattr("workbench.cli.terminal._what_qt_lacks", lambda: None)
    monkeypatch.setattr("workbench.cli.terminal.importlib.util.find_spec", lambda name: object())
    assert why_no_window({}) == "there is no display"
    assert why_no_window({"DISPLAY": ":7777"}) == "there is no display"
    assert why_no_window({"DISPLAY": "another-machine:0"}) is None
    wayland = {"WAYLAND_DISPLAY": "wayland-0", "XDG_RUNTIME_DIR": str(tmp_path)}
    assert why_no_window(wayland) == "there is no display"
    (tmp_path / "wayland-0").touch()
    assert why_no_window(wayland) is None
    monkeypatch.setattr("workbench.cli.terminal._what_qt_lacks", lambda: "a system library is missing")
    assert why_no_window(wayland) == "a system library is missing"
    monkeypatch.setattr("workbench.cli.terminal.importlib.util.find_spec", lambda name: None)
    assert why_no_window({"DISPLAY": ":0"}) == "this version has no window yet"


def test_a_board_without_lanes_has_nothing_to_judge_and_says_so(in_folder: Path, said: Said) -> None:
    board = starting_board(builtin_profiles()["pcie-2"], [starter_catalogues()["mid-loss-board"]], title="x")
    save_board(msgspec.structs.replace(board, lanes=()), in_folder / "x.board.json")
    assert main(["assess", "x.board.json"]) == 2
    assert said() == ("", 'link-margin: "x.board.json" has no lane to assess; add one\n')


@pytest.mark.campaign
def test_a_scheduler_that_is_none_is_refused_in_a_sentence(board_file: Path) -> None:
    command = [sys.executable, "-m", "workbench", "study", "corners", str(board_file), "--tolerance", "loss=±10%"]
    found = subprocess.run([*command, "--scheduler", "nonsense"], capture_output=True, check=False)
    assert found.returncode == 2
    assert found.stderr.startswith(b"link-margin: no scheduler answers at 'nonsense'")
    assert found.stderr.count(b"\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
@pytest.mark.parametrize("word", ["profiles", "--help"])
def test_a_full_disk_is_said_in_one_line(word: str) -> None:
    with Path("/dev/full").open("wb") as full:
        found = subprocess.run(
            [sys.executable, "-m", "workbench", word], stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert found.returncode == 2
    assert found.stderr.startswith(b"link-margin: the report can't be written")
    assert found.stderr.count(b"\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_a_refusal_that_a_full_disk_swallows_is_one_still() -> None:
    with Path("/dev/full").open("wb") as full:
        found = subprocess.run([sys.executable, "-m", "workbench", "check", "no"], stderr=full, check=False)
    assert found.returncode == 2


def test_a_name_that_the_terminal_cannot_show_stops_nothing(tmp_path: Path) -> None:
    path = tmp_path / "x.board.json"
    board = starting_board(builtin_profiles()["pcie-2"], [starter_catalogues()["mid-loss-board"]], title="x")
    path.write_bytes(dump_board(msgspec.structs.replace(board, profile="pcie-2", title="観測室")))
    found = subprocess.run(
        [sys.executable, "-m", "workbench", "check", str(tmp_path / "観測室.json")],
        env={**os.environ, "PYTHONIOENCODING": "ascii"}, capture_output=True, check=False,
    )  # fmt: skip
    assert found.returncode == 2
    assert b"\\u89b3" in found.stderr


def test_help_loads_neither_engine_nor_slow_libraries() -> None:
    program = (
        "import sys; from workbench.cli import main; main(['assess', '--help']); "
        "slow = {'pint', 'scipy', 'skrf', 'pandas', 'workbench.engine.assess'} & set(sys.modules); sys.exit(len(slow))"
    )
    assert subprocess.run([sys.executable, "-c", program], stdout=subprocess.DEVNULL, check=False).returncode == 0


@pytest.mark.parametrize("profile_id", some(sorted(builtin_profiles()), 7))
def test_a_new_board_goes_through_the_real_engine_to_a_verdict(profile_id: str, in_folder: Path, said: Said) -> None:
    assert main(["new", "x.board.json", "--profile", profile_id]) == 0
    said()
    status = main(["assess", "x.board.json", "--json"])
    out, err = said()
    lane = json.loads(out)["lanes"][0]
    assert err == ""
    assert lane["profile"] == profile_id
    assert lane["rate_bps"] == builtin_profiles()[profile_id].rate_bps.value
    assert status == (0 if lane["margin"]["verdict"] == "pass" else 1)
    # Two tenths of a metre of an ordinary card: common practice, no source, has it open at up to 8 Gb/s.
    assert lane["eye"]["height_v"] > 0.0 or lane["rate_bps"] > 8e9


def test_a_probe_point_that_is_not_there_is_refused_by_the_real_engine(board_file: Path, said: Said) -> None:
    assert main(["assess", str(board_file), "--probe", "U99 input"]) == 2
    out, err = said()
    assert out == ""
    assert err.startswith("link-margin: ")
    assert err.count("\n") == 1
