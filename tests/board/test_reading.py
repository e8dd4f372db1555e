"""Reading: what is sound reads, and everything else is one sentence with a place and a remedy."""

import hashlib
import json
import os
import time
import tracemalloc
from pathlib import Path

import pytest

from tests.board.sample import sample_board, sample_json
from workbench.board.reading import LARGEST_FILE_BYTES, faults_in, load_board, read_board
from workbench.board.writing import dump_board, save_board
from workbench.errors import BoardFileError


def refusal(data: bytes) -> BoardFileError:
    with pytest.raises(BoardFileError) as caught:
        read_board(data)
    sentence = str(caught.value)
    assert sentence.isprintable(), "one line, whatever the file holds"
    assert len(sentence) < 600
    assert caught.value.remedy in sentence
    assert "Expected" not in sentence
    assert "Error" not in sentence
    return caught.value


def spoilt(path: str, value: object) -> bytes:
    """The sample board with one value replaced (or added); the path is keys and numbers with dots between."""
    plain = sample_json()
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    spot = plain
    for step in way:
        spot = spot[step]
    spot[last] = value
    return json.dumps(plain).encode()


def without(path: str) -> bytes:
    plain = sample_json()
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    spot = plain
    for step in way:
        spot = spot[step]
    del spot[last]
    return json.dumps(plain).encode()


def test_the_documented_example_reads() -> None:
    data = Path(__file__).with_name("format_example.json").read_bytes()
    board = read_board(data).board
    assert board.title == "Correlator shelf"
    assert [type(line).__name__ for line in board.catalogue.lines] == ["LineByLoss", "StriplinePair", "MicrostripPair"]
    assert board.lanes[0].path[2].channel == 1
    assert read_board(dump_board(board)).board == board


def test_a_loaded_board_knows_its_file_and_its_bytes(tmp_path: Path) -> None:
    path = tmp_path / "shelf.board.json"
    save_board(sample_board(), path)
    loaded = load_board(path)
    assert loaded.board == sample_board()
    assert loaded.path == path
    assert loaded.migrated_from is None
    assert loaded.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_byte_order_mark_is_no_reason_to_refuse() -> None:
    assert read_board(b"\xef\xbb\xbf" + dump_board(sample_board())).board == sample_board()


RUN = "lanes.0.path.0"
# the changed place, its new value, the JSON path named, words that the sentence must hold
SPOILT = [
    ("format", "something-else", "$.format", ["something-else", "link-margin-board"]),
    ("format", None, "$.format", ["no format word"]),
    ("version", 3, "$.version", ["version 3", "version 0.3"]),
    ("version", 99, "$.version", ["version 99", "version 0.99 of this program or a newer one"]),
    ("version", 0, "$.version", ["no version 0"]),
    ("version", "1", "$.version", ['"version": 2']),
    ("version", True, "$.version", ['"version": 2']),
    ("titel", "x", "$.titel", ['"titel" is unknown', 'write "title"']),
    ("a b", "x", '$["a b"]', ['"a b" is unknown']),
    ("title", 3, "$.title", ["Title is 3", "text in quotes"]),
    ("profile", "pcie-9", "$.profile", ['no profile "pcie-9"', '"pcie-']),
    ("lanes.1.profile", "none such", "$.lanes[1].profile", ['in "D1"', "none such", "link-margin profiles"]),
    ("guard.width_ui", 2.0, "$.guard.width_ui", ["Width guard is 2 UI", "at least 0 UI and at most 1 UI"]),
    ("lanes", {}, "$.lanes", ["Lanes is an object", "a list in [ ]"]),
    ("lanes.0", None, "$.lanes[0]", ["null", "an object in { }"]),
    ("lanes.0.path", [], "$.lanes[0].path", ['in "D0", the path is empty']),
    ("lanes.1.name", "D0", "$.lanes[1].name", ['"D0" is taken by $.lanes[0].name']),
    ("lanes.0.name", "", "$.lanes[0].name", ["Name is empty"]),
    ("lanes.0.transmitter", "hots", "$.lanes[0].transmitter", ['"hots" is not in the catalogue', 'write "host"']),
    ("lanes.0.receiver", None, "$.lanes[0].receiver", ["Receiver is null", "text in quotes"]),
    (f"{RUN}.length_m", 0, "$.lanes[0].path[0].length_m", ['in "D0", Length is 0 m', "above 0 m and at most 100 m"]),
    (f"{RUN}.length_m", -0.2, "$.lanes[0].path[0].length_m", ["Length is -0.2 m"]),
    (f"{RUN}.length_m", 1e9, "$.lanes[0].path[0].length_m", ["Length is 1000000000 m", "at most 100 m"]),
    (f"{RUN}.length_m", float("nan"), "$.lanes[0].path[0].length_m", ["Length is not a number"]),
    (f"{RUN}.length_m", float("inf"), "$.lanes[0].path[0].length_m", ["Length is infinity"]),
    (f"{RUN}.length_m", "0.2", "$.lanes[0].path[0].length_m", ['Length is "0.2"', "a number above 0"]),
    (f"{RUN}.length_m", True, "$.lanes[0].path[0].length_m", ["Length is true"]),
    (
        f"{RUN}.line", "card trcae", "$.lanes[0].path[0].line",
        ["card trcae", 'write "card trace"', '"lines" or "cables"'],
    ),
    (f"{RUN}.kind", "rum", "$.lanes[0].path[0].kind", ['"rum"', 'write "run"']),
    (f"{RUN}.kind", 7, "$.lanes[0].path[0].kind", ['"kind" is 7', '"run", "component" or "stage"']),
    (f"{RUN}.lenght_m", 0.1, "$.lanes[0].path[0].lenght_m", ['write "length_m"']),
    ("lanes.0.path.1.part", "twinax", "$.lanes[0].path[1].part", ['"twinax" is not in the catalogue']),
    ("lanes.0.path.3.device", "U9", "$.lanes[0].path[3].device", ['no device "U9" is fitted', 'write "U1"']),
    ("lanes.0.path.3.channel", 5, "$.lanes[0].path[3].channel", ["no channel 5", "from 1 to 4"]),
    ("lanes.0.path.3.channel", 1.5, "$.lanes[0].path[3].channel", ["Channel is 1.5", "a whole number"]),
    ("lanes.0.path.3.channel", 0, "$.lanes[0].path[3].channel", ["Channel is 0", "at least 1"]),
    ("devices.0.part", "linear octal", "$.devices[0].part", ['in "U1"', "linear octal", 'write "linear quad"']),
    (
        "devices.0.settings.equalization", "9", "$.devices[0].settings.equalization",
        ["no equalization setting", '"0", "1" or "2"'],
    ),
    (
        "catalogue.lines.0.impedance_ohm", 0.0, "$.catalogue.lines[0].impedance_ohm",
        ['in "card trace"', "0 ohm", "at least 1 ohm"],
    ),
    ("catalogue.lines.0.name", "twinax", "$.catalogue.cables[0].name", ["is taken by $.catalogue.lines[0].name"]),
    ("catalogue.vias.0.name", "card edge", "$.catalogue.connectors[0].name", ["is taken by $.catalogue.vias[0].name"]),
    (
        "catalogue.vias.0.dielectric", "paper", "$.catalogue.vias[0].dielectric",
        ["paper", '"laminate"', '"dielectrics"'],
    ),
    ("catalogue.vias.0.antipad_m", 4e-4, "$.catalogue.vias[0].antipad_m", ["no larger than the pad", "make antipad_m"]),
    ("catalogue.conditioners.0.emphasis", [], "$.catalogue.conditioners[0].emphasis", ["empty", "at least one"]),
    ("catalogue.conditioners.0.kind", "limited", "$.catalogue.conditioners[0].kind", ['write "limiting"']),
    ("catalogue.receivers.0.equalizer", None, "$.catalogue.receivers[0].equalizer", ["Equalizer is null"]),
    (
        "catalogue.receivers.0.equalizer.dc_gain_db", [1, "x"], "$.catalogue.receivers[0].equalizer.dc_gain_db[1]",
        ['"x"', "at least -40"],
    ),
    (
        "catalogue.receivers.0.equalizer.dc_gain_db", [], "$.catalogue.receivers[0].equalizer.dc_gain_db",
        ["the list of gains is empty"],
    ),
    ("catalogue.receivers.0.dfe.limit_v", [0.1, 0.1], "$.catalogue.receivers[0].dfe.limit_v", ["2 limits for 1 taps"]),
    ("catalogue.networks", ["x"], "$.catalogue.networks[0]", ["an object in { }"]),
    ("catalogue.cabels", [], "$.catalogue.cabels", ['write "cables"']),
    ("notes", "\ud800", "$.notes", ["surrogate"]),
]


@pytest.mark.parametrize(("path", "value", "place", "words"), SPOILT, ids=[f"{p}-{v!r:.20}" for p, v, _, _ in SPOILT])
def test_a_spoilt_value_is_refused_at_its_place(path: str, value: object, place: str, words: list[str]) -> None:
    error = refusal(spoilt(path, value))
    assert error.place == place
    for word in words:
        assert word in str(error), str(error)


@pytest.mark.parametrize(
    ("path", "place", "words"),
    [
        ("format", "$.format", "no format word"),
        ("version", "$.version", '"version": 2'),
        ("profile", "$.profile", 'Profile ("profile") is missing'),
        ("lanes.0.path.0.length_m", "$.lanes[0].path[0].length_m", "add it with a number above 0 m"),
        ("lanes.0.path.0.kind", "$.lanes[0].path[0].kind", 'is missing; add it with "run", "component" or "stage"'),
        ("catalogue.dielectrics.0", "$.catalogue.vias[0].dielectric", '"laminate" is not in the catalogue'),
        ("devices.0", "$.lanes[0].path[3].device", 'no device "U1" is fitted'),
    ],
)
def test_what_is_missing_is_named(path: str, place: str, words: str) -> None:
    error = refusal(without(path))
    assert error.place == place
    assert words in str(error)


def test_a_channel_that_another_lane_holds_is_refused() -> None:
    plain = json.loads(dump_board(sample_board(3)))
    plain["lanes"][2]["path"][3]["channel"] = 1
    error = refusal(json.dumps(plain).encode())
    assert error.place == "$.lanes[2].path[3].channel"
    assert 'in "D2", channel 1 of "U1" is taken by $.lanes[0].path[3]' in str(error)


GOOD = dump_board(sample_board())
NO_JSON = [
    (b"", "$", "the file is empty"),
    (b" \n", "$", "the file is empty"),
    (GOOD[:-40], "line 1", "ends before its JSON is complete"),
    (b'{"format": "link-margin-board", "ver', "line 1", "ends before"),
    (b'{"format": "link-margin-board",\n "version": 2,\n}', "line 3, column 1", "not JSON here"),
    (b'{"format": "link-margin-board"\n "version": 2}', "line 2, column 2", "not JSON here"),
    (b"title: Correlator shelf\n", "line 1, column 1", "not JSON here"),
    (GOOD + b"x", "line", "not JSON here"),
    (b"[1, 2]", "$", "the file holds a list, not a board"),
    (b"3", "$", "holds a number"),
    (b'"text"', "$", "holds text"),
    (b"null", "$", "holds null"),
    (b"{}", "$.format", "no format word"),
    ('{"title": "Größe"}'.encode("latin-1"), "$.format", "no format word"),
    (GOOD.replace(b"Correlator", b"Korrel\xe4tor"), "line 4, column 19", "not UTF-8"),
    (GOOD.decode().encode("utf-16"), "line 1, column 1", "not UTF-8"),
    (b'{"format": "link-margin-assessment", "version": 1}', "$.format", "link-margin-assessment"),
    (GOOD.replace(b'"length_m": 0.2}', b'"length_m": NaN}', 1), "$.lanes[0].path[0].length_m", "not a number"),
    (GOOD.replace(b'"length_m": 0.2}', b'"length_m": -Infinity}', 1), "$.lanes[0].path[0].length_m", "minus infinity"),
    (GOOD.replace(b'"length_m": 0.2}', b'"length_m": 1e999}', 1), "$.lanes[0].path[0].length_m", "infinity"),
    (
        GOOD.replace(b'"length_m": 0.2}', b'"length_m": 1' + b"0" * 5000 + b"}", 1), "$.lanes[0].path[0].length_m",
        "infinity",
    ),
    (GOOD.replace(b'"notes": ""', b'"notes": "", "notes": "x"'), "$.notes", "stands here twice"),
    (GOOD.replace(b'"channel": 1', b'"channel": 1, "channel": 2'), "$.lanes[0].path[3].channel", "stands here twice"),
    (GOOD.replace(b'"version": 2', b'"version": ' + b"9" * 5000), "$.version", "version"),
    (GOOD.replace(b"Correlator", b"\\ud800"), "$.title", "surrogate"),
]


LATER = {"line 3, column 1": ("line 2, column 14",)}
"""Python 3.13 names the comma that is too many, the ones before what follows it."""


@pytest.mark.parametrize(("data", "place", "words"), NO_JSON, ids=range(len(NO_JSON)))
def test_what_is_no_board_file_is_refused_with_its_place(data: bytes, place: str, words: str) -> None:
    error = refusal(data)
    places = (place, *LATER.get(place, ()))
    assert error.place.startswith(places) or (place == "line 1" and error.place.startswith("line ")), str(error)
    assert words in str(error)


HEAD = b'{"format": "link-margin-board", "version": 2, '
SIZE = 60_000_000
HOSTILE = {
    "lists": (b"", b"[", b""),
    "lanes of lists": (HEAD + b'"lanes": ', b"[", b""),
    "lanes of many lists": (HEAD + b'"lanes": [', b"[],", b"[]]}"),
    "many objects under an unknown key": (HEAD + b'"x": {"a": [', b"{},", b"{}]}}"),
    "a deep format word": (b'{"format": ', b'{"a":', b""),
}


@pytest.mark.campaign
@pytest.mark.parametrize("name", HOSTILE)
def test_megabytes_of_nesting_are_refused_at_once_and_in_little_memory(name: str) -> None:
    before, nest, after = HOSTILE[name]
    data = before + nest * (SIZE // len(nest)) + after
    tracemalloc.start()
    start = time.process_time()
    refusal(data)
    seconds = time.process_time() - start
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    start = time.process_time()
    data.translate(bytes(reversed(range(256))))
    assert seconds < 15.0 * (time.process_time() - start), "about as long as a few passes over the bytes"
    assert most < 2 * len(data) + 50e6, "no more than a copy or so of the bytes"


def test_every_fault_of_a_file_is_found(tmp_path: Path) -> None:
    plain = sample_json()
    plain["lanes"][0]["transmitter"] = "nobody"
    plain["lanes"][1]["path"] = []
    plain["devices"][0]["settings"]["swing"] = "loud"
    path = tmp_path / "bad.board.json"
    path.write_text(json.dumps(plain))
    places = [fault.place for fault in faults_in(path)]
    assert places == ["$.devices[0].settings.swing", "$.lanes[0].transmitter", "$.lanes[1].path"]
    save_board(sample_board(), path)
    assert faults_in(path) == ()


class TestUnreadableFiles:
    def test_a_missing_file(self, tmp_path: Path) -> None:
        self.refused(tmp_path / "none.board.json", "there is no file")

    def test_a_folder(self, tmp_path: Path) -> None:
        self.refused(tmp_path, "is a folder")

    def test_a_name_below_a_file(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("x")
        self.refused(tmp_path / "file" / "x", "can't be read")

    def test_a_name_with_a_zero_byte(self, tmp_path: Path) -> None:
        self.refused(tmp_path / "a\0b", "can't be read")

    def test_a_pipe_is_not_waited_for(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "pipe")
        self.refused(tmp_path / "pipe", "not an ordinary file")

    def test_a_file_larger_than_any_board(self, tmp_path: Path) -> None:
        path = tmp_path / "huge"
        path.touch()
        os.truncate(path, LARGEST_FILE_BYTES + 1)
        self.refused(path, "larger than 256 MiB")

    def test_a_file_without_permission(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def denied(path: Path) -> bytes:
            raise PermissionError(13, "Permission denied", str(path))

        (tmp_path / "mine").write_bytes(GOOD)
        monkeypatch.setattr(Path, "read_bytes", denied)
        self.refused(tmp_path / "mine", "may not be read")

    @staticmethod
    def refused(path: Path, words: str) -> None:
        with pytest.raises(BoardFileError, match=words) as caught:
            load_board(path)
        assert str(caught.value).isprintable()
        assert faults_in(path)[0].problem == caught.value.problem


@pytest.mark.parametrize("swing_v", [0.0, 1e-320, 9e-4])
def test_a_swing_that_no_receiver_could_see_is_refused(swing_v):
    assert "swing_v" in str(refusal(spoilt("catalogue.transmitters.0.swing_v", swing_v)))
