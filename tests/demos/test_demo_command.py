"""`link-margin demo`: what it writes, what it leaves alone, and that the sample files say what they claim."""

import pytest

from workbench.board.reading import load_board
from workbench.cli import main
from workbench.cli.demo import JUMPER, LOSS, LOSSIER, ROUTING
from workbench.resources import project


def test_boards_and_sample_files_are_written(tmp_path, capsys):
    folder = tmp_path / "new" / "trial"
    assert main(["demo", str(folder)]) == 0
    boards = {path.name for path in project().glob("*.board.json")}
    assert {path.name for path in folder.iterdir()} == {*boards, JUMPER, LOSS, ROUTING}
    assert all((folder / name).read_bytes() == project(name).read_bytes() for name in boards)
    assert "wrote 6 files" in capsys.readouterr().out


@pytest.mark.campaign
def test_what_is_there_already_stays_unless_forced(tmp_path, capsys):
    own = tmp_path / LOSS
    own.write_text("mine")
    assert main(["demo", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert f"has {LOSS} already; choose another, or replace them with --force" in told
    assert [path.name for path in tmp_path.iterdir()] == [LOSS]
    assert own.read_text() == "mine"
    assert main(["demo", str(tmp_path), "--force"]) == 0
    assert own.read_text() != "mine"


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert main(["demo", str(tmp_path / "file" / "trial")]) == 2
    assert "can't be made" in capsys.readouterr().err


def test_a_fit_to_the_loss_table_finds_the_loss_that_it_was_made_with(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    main(["demo", "."])
    main(["new", "my.board.json"])
    path = "conductor_loss_db_per_m"
    line = next(one for one in load_board("my.board.json").board.catalogue.lines if one.name == "card trace")
    free = f"lines/card trace/{path}"
    assert main(
        ["fit", "my.board.json", LOSS, "--what", "transmission", "--lane", "L0", "--elements", "1-3", "--free", free,
         "--write"]
    ) == 0  # fmt: skip
    found = next(one for one in load_board("my.board.json").board.catalogue.lines if one.name == "card trace")
    assert getattr(found, path) == pytest.approx(LOSSIER * getattr(line, path), rel=1e-4)
