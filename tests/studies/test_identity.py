"""Workers of a cluster compute with the same sources and versions, or are refused."""

import importlib.metadata
import platform

import pytest

from workbench.studies.pool.identity import SOURCES, hash_of, identity, what_differs


def test_what_counts_is_this_interpreter_s_and_its_libraries():
    own = identity()
    assert own["Python"] == platform.python_version()
    assert {name: own[name] for name in ("numpy", "msgspec")} == {
        name: importlib.metadata.version(name) for name in ("numpy", "msgspec")
    }
    assert what_differs(dict(own), own) == ""


@pytest.mark.parametrize("name", [SOURCES, "Python", "numpy", "msgspec"])
def test_each_difference_is_told(name):
    told = what_differs(identity() | {name: "other"}, identity())
    assert told.startswith("other sources" if name == SOURCES else f"{name} other and this is ")
    assert what_differs({}, identity()).count(",") == 3


def test_any_change_of_a_source_changes_the_hash_and_line_endings_do_not(tmp_path):
    (tmp_path / "part").mkdir()
    one = tmp_path / "part" / "one.py"
    one.write_bytes(b"a = 1\n")
    before = hash_of(tmp_path)
    one.write_bytes(b"a = 1\r\n")
    assert hash_of(tmp_path) == before
    one.write_bytes(b"a = 2\n")
    assert hash_of(tmp_path) != before
    one.write_bytes(b"a = 1\n")
    one.rename(tmp_path / "one.py")
    assert hash_of(tmp_path) != before
