"""Older files: migrated on load step by step, and never rewritten without a save. Version 0 is invented here."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.board.sample import sample_board, sample_json
from workbench import __version__
from workbench.board.migration import STEPS, check_version, migrate
from workbench.board.model import VERSION
from workbench.board.reading import load_board, read_board
from workbench.board.writing import dump_board
from workbench.errors import BoardFileError


def from_version_0(raw: dict[str, Any]) -> dict[str, Any]:
    """The invented version 0 had its catalogue under "parts" and lengths in mm."""
    raw["catalogue"] = raw.pop("parts")
    for lane in raw["lanes"]:
        for element in lane["path"]:
            if element["kind"] == "run":
                element["length_m"] = element.pop("length_mm") / 1000.0
    return raw


INVENTED = {0: from_version_0, **STEPS}


def old_file() -> dict[str, Any]:
    plain = sample_json()
    plain["version"] = 0
    plain["parts"] = plain.pop("catalogue")
    for lane in plain["lanes"]:
        for element in lane["path"]:
            if element["kind"] == "run":
                element["length_mm"] = element.pop("length_m") * 1000.0
    return plain


def test_an_older_file_reads_as_the_same_board_and_is_not_rewritten(tmp_path: Path) -> None:
    path = tmp_path / "old.board.json"
    path.write_text(json.dumps(old_file()))
    before = path.read_bytes()
    loaded = load_board(path, steps=INVENTED)
    assert loaded.board == sample_board()
    assert loaded.board.version == VERSION
    assert loaded.migrated_from == 0
    assert path.read_bytes() == before
    assert read_board(dump_board(loaded.board)).migrated_from is None


def test_faults_of_an_older_file_are_found_after_its_migration() -> None:
    old = old_file()
    old["lanes"][0]["path"][0]["length_mm"] = -3.0
    with pytest.raises(BoardFileError, match=r"Length is -0\.003 m"):
        read_board(json.dumps(old).encode(), steps=INVENTED)
    twice = json.dumps(old_file()).replace('"notes": ""', '"notes": "", "notes": ""').encode()
    with pytest.raises(BoardFileError, match="stands here twice"):
        read_board(twice, steps=INVENTED)


def test_a_file_that_is_not_what_its_version_says_is_refused() -> None:
    plain = sample_json()
    plain["version"] = 0
    with pytest.raises(BoardFileError, match="says version 0 but is not built like one"):
        read_board(json.dumps(plain).encode(), steps=INVENTED)


def test_steps_run_one_after_the_other_from_the_files_own_version() -> None:
    steps = {n: lambda raw, n=n: {**raw, "seen": [*raw.get("seen", []), n]} for n in range(VERSION)}
    assert migrate({}, 0, steps)["seen"] == list(range(VERSION))
    assert migrate({}, 0, steps)["version"] == VERSION


def test_a_newer_file_names_the_program_that_reads_it() -> None:
    with pytest.raises(BoardFileError, match=r"version 7, and this program \(.*version 0\.7 of this program") as caught:
        check_version(7)
    assert f"this program ({__version__}) reads versions up to {VERSION}" in caught.value.problem


def test_the_program_version_keeps_the_rule_that_refusals_rely_on() -> None:
    major, minor = __version__.split(".")[:2]
    assert (int(major), int(minor)) >= (0, VERSION)


def test_this_version_reads_every_version_that_has_steps() -> None:
    assert all(check_version(version) == version for version in [*STEPS, VERSION])


VERSIONS = Path(__file__).with_name("versions")


@pytest.mark.parametrize("version", sorted(STEPS))
def test_a_kept_file_of_every_older_version_reads_as_a_board_of_today(version: int) -> None:
    loaded = load_board(VERSIONS / f"version_{version}.board.json")
    assert loaded.migrated_from == version
    assert read_board(dump_board(loaded.board)).board == loaded.board


def test_version_1_said_fixture_and_look_and_reserved_keys_that_nothing_used() -> None:
    raw = json.loads((VERSIONS / "version_1.board.json").read_bytes())
    new = migrate(raw, 1)
    kinds = [element["kind"] for lane in new["lanes"] for element in lane["path"]]
    assert "component" in kinds
    assert "fixture" not in kinds
    assert [one["probe"] for one in new["measurements"]] == ["pins", "receiver"]
    assert not {"look", "aggressors"} & {*new["lanes"][0], *new["measurements"][0]}
