"""Trust: by bytes, per user, never by a board; a copy that was changed is not run."""

import sys

import pytest

from tests.makers.compiled import AMI
from workbench.errors import ModelError, ModelRunError
from workbench.makers.session import Library
from workbench.makers.trust import Trust, candidate, sha256, trust_folder


@pytest.fixture
def files(tmp_path):
    supporting = (
        '(Supporting_Files (Usage Info) (Type String) (Table ("curves.txt") ("more/deep.txt")) (Description "x"))'
    )
    ami = tmp_path / "tests.ami"
    ami.write_text(AMI.format(returns=True, wave=True, most=1, reserved=supporting))
    (tmp_path / "curves.txt").write_text("1 2 3")
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "deep.txt").write_text("4")
    library = tmp_path / "tests.so"
    library.write_bytes(b"\x7fELF not really")
    return ami, library


def test_what_is_trusted_is_found_by_its_hash_with_all_that_belongs_to_it(files, tmp_path):
    trust, model = Trust(tmp_path / "kept"), candidate(*files, maker="Invented")
    kept = trust.add(model)
    assert kept.library_sha256 == sha256(files[1].read_bytes())
    files[1].write_bytes(b"another")  # the maker's file may go where it will
    found = trust.find("x", kept.library_sha256, kept.ami_sha256)
    assert found.library == Library(
        "tests.so", b"\x7fELF not really", (("curves.txt", b"1 2 3"), ("more/deep.txt", b"4"))
    )
    assert (found.kept, found.ami.root, trust.all()) == (kept, "tests", (kept,))


def test_trust_again_and_no_more(files, tmp_path):
    trust, model = Trust(tmp_path / "kept"), candidate(*files)
    kept = trust.add(model)
    assert trust.add(model) == kept
    assert trust.remove(kept.library_sha256) == 1
    assert trust.all() == ()
    with pytest.raises(
        ModelRunError, match=r"not trusted on this computer; trust its files with: link-margin model trust"
    ):
        trust.find("x", kept.library_sha256, kept.ami_sha256)


@pytest.mark.parametrize("place", ["files/tests.so", "files/curves.txt", "parameters.ami"])
def test_a_copy_that_was_changed_is_not_run(files, tmp_path, place):
    trust = Trust(tmp_path / "kept")
    kept = trust.add(candidate(*files))
    [folder] = trust.folder.iterdir()
    (folder / place).write_bytes(b"other")
    with pytest.raises(ModelRunError, match="changed since it was trusted") as refusal:
        trust.find("x", kept.library_sha256, kept.ami_sha256)
    assert refusal.value.happened == "untrusted"


@pytest.mark.parametrize("name", ["../outside.txt", "/etc/outside", "C:/outside", ""])
def test_supporting_files_stay_in_their_folder(files, name):
    ami, library = files
    ami.write_text(ami.read_text().replace("more/deep.txt", name))
    if not name:
        assert [entry for entry, _ in candidate(ami, library).library.supporting] == ["curves.txt"]
        return
    with pytest.raises(ModelError, match="leaves the model's folder"):
        candidate(ami, library)


def test_a_hash_that_is_none_finds_nothing(tmp_path):
    with pytest.raises(ModelRunError, match="not trusted"):
        Trust(tmp_path).find("x", "../../etc", "..")


def test_files_that_are_missing_are_named(files, tmp_path):
    with pytest.raises(ModelError, match=r'none\.so" can\'t be read'):
        candidate(files[0], tmp_path / "none.so")


@pytest.mark.skipif(sys.platform != "linux", reason="the folder's place is the platform's own")
def test_trust_is_kept_with_the_users_data(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert trust_folder() == tmp_path / "link-margin-workbench" / "models"
