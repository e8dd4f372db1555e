"""Lines with etch, mask or a second dielectric in a board file: written, read, refused; old files stay as they are."""

import msgspec
import pytest

from tests.parts.samples import (
    LAMINATE,
    MASK,
    MICROSTRIP,
    PREPREG,
    SMOOTH,
    SOLVED_MICROSTRIP,
    SOLVED_STRIPLINE,
    STRIPLINE,
)
from workbench.board.edits.catalogue import remove_entry, replace_entry, where_used
from workbench.board.model import Board, Catalogue
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.errors import BoardFileError

FOIL = msgspec.structs.replace(SMOOTH, name="foil")
YOUNG = ("etch_m", "upper_dielectric", "mask_m", "mask_on_trace_m", "mask_dielectric")


def board(*lines) -> Board:
    catalogue = Catalogue(dielectrics=(LAMINATE, PREPREG, MASK), foils=(FOIL,), lines=lines)
    return Board(profile="pcie-2", catalogue=catalogue)


def test_what_is_not_used_is_not_written():
    text = dump_board(board(STRIPLINE, MICROSTRIP)).decode()
    assert not any(key in text for key in YOUNG)


def test_a_solved_line_comes_back_from_its_file():
    made = board(SOLVED_STRIPLINE, SOLVED_MICROSTRIP)
    assert read_board(dump_board(made)).board == made


def test_a_dielectric_that_is_not_there_is_refused_at_its_place():
    lost = msgspec.structs.replace(SOLVED_MICROSTRIP, mask_dielectric="lacquer")
    with pytest.raises(BoardFileError, match="lacquer") as refused:
        dump_board(board(lost))
    assert refused.value.place == "$.catalogue.lines[0].mask_dielectric"


def test_edits_follow_an_optional_reference():
    made = board(SOLVED_MICROSTRIP)
    assert [use.place for use in where_used(made, "dielectrics", "mask")] == ["$.catalogue.lines[0].mask_dielectric"]
    renamed = replace_entry(made, "dielectrics", "mask", msgspec.structs.replace(MASK, name="green mask"))
    assert renamed.catalogue.lines[0].mask_dielectric == "green mask"
    replaced = remove_entry(made, "dielectrics", "mask", substitute="prepreg")
    assert replaced.catalogue.lines[0].mask_dielectric == "prepreg"
