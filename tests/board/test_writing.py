"""Writing: one text a board, and a file that is at any moment the old one or the new one, whole."""

import errno
import json
import math
import os
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.board.sample import sample_board
from tests.strategies import boards, boards_apart
from workbench.board.checking import check
from workbench.board.library import builtin_profiles
from workbench.board.model import Board
from workbench.board.reading import load_board, read_board
from workbench.board.writing import COLUMNS, dump_board, float_text, save_board
from workbench.errors import BoardFileError
from workbench.parts.receiver import PolesAndZeros


def names_in(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


@settings(max_examples=15)
@given(st.one_of(boards(), boards_apart()))
def test_a_board_comes_back_equal_and_its_file_byte_for_byte(board: Board) -> None:
    assert check(board) == ()
    data = dump_board(board)
    again = read_board(data).board
    assert again == board
    assert dump_board(again) == data
    assert json.loads(data)["title"] == board.title
    _lines_are_short_and_elements_stand_one_a_line(data, board)


def _lines_are_short_and_elements_stand_one_a_line(data: bytes, board: Board) -> None:
    lines = data.decode().split("\n")
    assert lines[-1] == ""
    assert lines[-2] == "}"
    assert all(len(line) <= COLUMNS for line in lines)
    assert sum(line.strip().startswith('{"kind": "') for line in lines) >= sum(len(lane.path) for lane in board.lanes)


def test_the_file_is_laid_out_as_documented() -> None:
    text = dump_board(sample_board()).decode()
    for line in (
        '  "guard": {"height_v": 0.01, "width_ui": 0.03},',
        '      {"name": "laminate", "permittivity": 3.9, "loss_tangent": 0.011, "frequency_hz": 1e9}',
        '    {"ref": "U1", "part": "linear quad", '
        '"settings": {"equalization": "2", "swing": "unity", "emphasis": "off"}}',
        '        {"kind": "run", "line": "card trace", "length_m": 0.2},',
        '        {"kind": "stage", "device": "U1", "channel": 1},',
        '    "networks": [],',
        '          {"setting": "0", "boost_db": 0.0},',
    ):
        assert f"\n{line}\n" in text, line
    # These are younger than the format: without any, the key is left out.
    younger = ("measurements", "bundles", "answers", "sources", "prepared_by", "prepared_for", "revision")
    assert list(json.loads(text)) == [key for key in Board.__struct_fields__ if key not in younger]


def test_keys_younger_than_the_format_stand_in_a_file_only_where_they_say_something() -> None:
    plain = sample_board()
    words = ("package", "settings_by", "taps_from", "sample_left_ui", "limit_per_cursor", "least_v", "pad_limits")
    assert not any(f'"{word}"' in dump_board(plain).decode() for word in words)
    five = builtin_profiles()["pcie-5"]
    assert five.reference is not None
    assert isinstance(five.reference.equalizer, PolesAndZeros)
    receiver = replace(
        plain.catalogue.receivers[0], package="reference", settings_by="area", dfe=five.reference.dfe,
        equalizer=five.reference.equalizer,
    )  # fmt: skip
    transmitter = replace(plain.catalogue.transmitters[0], taps_from="best-preset")
    catalogue = replace(plain.catalogue, receivers=(receiver,), transmitters=(transmitter,))
    board = replace(plain, catalogue=catalogue, profiles=(five, builtin_profiles()["10gbase-kr"]))
    data = dump_board(board)
    assert read_board(data).board == board
    assert b'"least_v"' not in data
    assert b'"limit_per_cursor": [0.8]' in data


def test_one_changed_length_changes_one_line() -> None:
    old = dump_board(sample_board()).decode()
    new = old.replace('"length_m": 0.3}', '"length_m": 0.35}', 1)
    again = dump_board(read_board(new.encode()).board).decode()
    assert again == new
    assert sum(a != b for a, b in zip(old.split("\n"), again.split("\n"), strict=True)) == 1


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_comes_back_to_the_last_bit_in_no_more_digits_than_python_needs(value: float) -> None:
    text = float_text(value)
    back = json.loads(text)
    assert isinstance(back, float)
    assert back == value
    assert math.copysign(1.0, back) == math.copysign(1.0, value)
    assert len(text) <= len(repr(value))


@pytest.mark.parametrize(
    ("value", "text"),
    [(5e9, "5e9"), (2.5e9, "2.5e9"), (0.011, "0.011"), (1.1e-4, "1.1e-4"), (-0.0, "-0.0"), (100.0, "100.0"),
     (1e-13, "1e-13"),
     (-3.5e-12, "-3.5e-12"), (999999.5, "999999.5"), (1e6, "1e6"), (1e300, "1e300"),
     (1000001.0, "1000001.0"), (123456789.0, "123456789.0"), (1.25e8, "1.25e8")],
)
def test_numbers_are_written_as_designers_write_them(value: float, text: str) -> None:
    assert float_text(value) == text


def test_an_unsound_board_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "a.board.json"
    save_board(sample_board(), path)
    before = path.read_bytes()
    unsound = Board(profile="no such profile")
    with pytest.raises(BoardFileError, match="no such profile"):
        save_board(unsound, path)
    assert path.read_bytes() == before
    assert names_in(tmp_path) == ["a.board.json"]


class TestSaving:
    @pytest.fixture
    def path(self, tmp_path: Path) -> Path:
        path = tmp_path / "shelf.board.json"
        path.write_bytes(b"the old bytes")
        return path

    def test_the_file_is_the_board(self, path: Path) -> None:
        save_board(sample_board(), path)
        assert path.read_bytes() == dump_board(sample_board())
        assert load_board(path).board == sample_board()
        assert names_in(path.parent) == [path.name]

    @pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
    def test_permissions_stay(self, path: Path, mode: int) -> None:
        path.chmod(mode)
        save_board(sample_board(), path)
        assert stat.S_IMODE(path.stat().st_mode) == mode

    def test_a_new_file_gets_the_usual_permissions(self, path: Path) -> None:
        usual = path.with_name("usual")
        usual.touch()
        new = path.with_name("new.board.json")
        save_board(sample_board(), new)
        assert stat.S_IMODE(new.stat().st_mode) == stat.S_IMODE(usual.stat().st_mode)

    def test_a_link_is_followed(self, path: Path) -> None:
        link = path.with_name("link.board.json")
        link.symlink_to(path)
        save_board(sample_board(), link)
        assert link.is_symlink()
        assert path.read_bytes() == dump_board(sample_board())

    @pytest.mark.parametrize("name", ["open", "write", "flush", "fsync", "chmod", "replace"])
    @pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
    def test_a_failure_at_any_step_leaves_the_old_file_and_no_litter(
        self, path: Path, monkeypatch: pytest.MonkeyPatch, name: str, number: int
    ) -> None:
        self.fail_at(name, number, monkeypatch)
        with pytest.raises(BoardFileError) as caught:
            save_board(sample_board(), path)
        monkeypatch.undo()
        assert path.read_bytes() == b"the old bytes"
        assert names_in(path.parent) == [path.name]
        assert str(caught.value).isprintable()
        assert path.name in str(caught.value)

    def test_an_interrupt_leaves_the_old_file_and_no_litter(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def interrupted(_handle: int) -> None:
            raise KeyboardInterrupt

        monkeypatch.setattr(os, "fsync", interrupted)
        with pytest.raises(KeyboardInterrupt):
            save_board(sample_board(), path)
        assert path.read_bytes() == b"the old bytes"
        assert names_in(path.parent) == [path.name]

    def test_a_folder_that_the_disk_does_not_confirm_is_told(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.fail_folder(errno.EIO, monkeypatch)
        with pytest.raises(BoardFileError, match="is written, but the disk did not confirm it"):
            save_board(sample_board(), path)
        assert path.read_bytes() == dump_board(sample_board())

    def test_a_file_system_without_folder_sync_is_no_failure(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.fail_folder(errno.EINVAL, monkeypatch)
        save_board(sample_board(), path)
        assert path.read_bytes() == dump_board(sample_board())

    def test_a_file_marked_read_only_stays(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(os, "access", lambda _path, _mode: False)  # for root every file is writable
        with pytest.raises(BoardFileError, match="may not be written"):
            save_board(sample_board(), path)
        assert path.read_bytes() == b"the old bytes"

    @pytest.mark.parametrize(
        ("name", "words"),
        [
            (".", "not an ordinary file"),
            ("gone/shelf.board.json", "does not exist"),
            ("shelf.board.json/inside", "does not exist"),
            ("x" * 300, "too long a name"),
            ("a\0b", "not a file name"),
        ],
    )
    def test_places_where_no_file_can_be(self, path: Path, name: str, words: str) -> None:
        with pytest.raises(BoardFileError, match=words):
            save_board(sample_board(), path.parent / name)
        assert names_in(path.parent) == [path.name]

    @staticmethod
    def fail_at(name: str, number: int, monkeypatch: pytest.MonkeyPatch) -> None:
        def fail(*_args: object, **_kwargs: object) -> None:
            raise OSError(number, os.strerror(number))

        if name in ("write", "flush"):
            opened = os.fdopen

            def failing(handle: int, mode: str) -> object:
                class Failing:
                    """A file whose one method fails; it is closed like any other."""

                    def __init__(self) -> None:
                        self.file = opened(handle, mode)

                    def __enter__(self) -> "Failing":
                        return self

                    def __exit__(self, *_error: object) -> None:
                        self.file.close()

                    def __getattr__(self, wanted: str) -> object:
                        return fail if wanted == name else getattr(self.file, wanted)

                return Failing()

            monkeypatch.setattr(os, "fdopen", failing)
        elif name == "chmod":
            monkeypatch.setattr(Path, "chmod", fail)
        else:
            monkeypatch.setattr(os, name, fail)

    @staticmethod
    def fail_folder(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
        sync = os.fsync

        def failing(handle: int) -> None:
            if stat.S_ISDIR(os.fstat(handle).st_mode):
                raise OSError(number, os.strerror(number))
            sync(handle)

        monkeypatch.setattr(os, "fsync", failing)
