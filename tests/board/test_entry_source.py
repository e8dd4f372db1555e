"""Where the values of a part of the user's library come from: travels in the board's file, and follows the entry."""

import json

import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.difference import differences
from workbench.board.edits.catalogue import copy_entry, remove_entry, replace_entry
from workbench.board.edits.taking import take_entry
from workbench.board.entry_source import known_of, source_of, source_sentences
from workbench.board.library import ALL_OTHERS, Provenance, provenance_of
from workbench.board.model import Board
from workbench.board.reading import read_board
from workbench.board.user_library import UserLibrary
from workbench.board.writing import dump_board
from workbench.quantity import lengths_shown
from workbench.studies.comparison.differences import TakenOver
from workbench.studies.comparison.differences import differences as felt_differences

SAID = "data sheet of the shelf's backplane, revision 3, table 2"


@pytest.fixture
def taken(tmp_path) -> Board:
    """A board that took a via, and with it the laminate that it lies in, from a library."""
    library = UserLibrary(tmp_path / "mine")
    library.keep(sample_board(), "vias", "through via", SAID)
    parts = library.parts()
    nothing = Board(title="a colleague's", profile="pcie-2")
    return take_entry(nothing, parts.catalogue, "vias", "through via", known=parts.known)[0]


def via(board: Board, name: str = "through via"):
    return next(one for one in board.catalogue.vias if one.name == name)


def edited(board: Board, **fields) -> Board:
    return replace_entry(board, "vias", "through via", replace(via(board), **fields))


def said_of(board: Board, name: str = "through via") -> str:
    return " ".join(source_sentences(board.sources, "vias", via(board, name)))


def test_it_travels_in_the_file_and_is_known_to_who_has_only_that(taken):
    data = dump_board(taken)
    read = read_board(data).board
    assert read == taken
    for section, field in (("vias", "drill_m"), ("vias", "stub_m"), ("dielectrics", "permittivity")):
        (entry,) = getattr(read.catalogue, section)
        found = provenance_of(entry, section, field, (), read.sources)
        assert found is not None
        assert (found.words, found.before) == (f"{SAID} (own requirement)", "")
    assert {one["entry"] for one in json.loads(data)["sources"]} == {"through via", "laminate"}


def test_a_board_without_any_is_written_as_before():
    assert b'"sources"' not in dump_board(sample_board())


def test_a_value_that_was_edited_is_told_and_never_passed_off_as_the_sources(taken):
    board = edited(taken, stub_m=1e-4)
    found = provenance_of(via(board), "vias", "stub_m", (), board.sources)
    assert found is not None
    assert found.words == f"edited since it was taken; 600 µm in {SAID} (own requirement)"
    assert f"Source: {SAID} (own requirement); edited since it was taken: stub was 600 µm." == said_of(board)
    with lengths_shown(imperial=True):
        assert "23.62 mil" in said_of(board)
    still = provenance_of(via(board), "vias", "drill_m", (), board.sources)
    assert still is not None
    assert not still.before
    assert said_of(edited(board, stub_m=6e-4)) == f"Source: {SAID} (own requirement)."


def test_it_follows_the_entry_through_renaming_copying_and_deletion(taken):
    renamed = replace_entry(taken, "vias", "through via", replace(via(taken), name="thin via"))
    assert said_of(renamed, "thin via") == said_of(taken)
    # What the via lies in may be renamed too: that has a source of its own.
    laminate = replace(renamed.catalogue.dielectrics[0], name="FR")
    assert said_of(replace_entry(renamed, "dielectrics", "laminate", laminate), "thin via") == said_of(taken)
    both = copy_entry(taken, "vias", "through via", "copy")
    assert said_of(both, "copy") == said_of(both) == said_of(taken)
    left = remove_entry(both, "vias", "through via")
    assert {one.entry for one in left.sources} == {"copy", "laminate"}
    assert not check(left)


def test_taken_twice_it_stands_once(taken, tmp_path):
    parts = UserLibrary(tmp_path / "mine").parts()
    again, name = take_entry(taken, parts.catalogue, "vias", "through via", known=parts.known)
    assert (again, name) == (taken, "through via")
    other = edited(taken, drill_m=3e-4)
    board, name = take_entry(other, parts.catalogue, "vias", "through via", known=parts.known)
    assert name == "through via 2"
    assert said_of(board, name).endswith(f"{SAID} (own requirement).")


def test_numbers_of_several_sources_keep_each_its_own(taken, tmp_path):
    stub = Provenance(source="cross-section of sample 4", status="published")
    library = UserLibrary(tmp_path / "mine")
    (file,) = library.folder.iterdir()
    plain = json.loads(file.read_bytes())
    plain["sources"]["vias"]["through via"]["stub_m"] = {"source": stub.source, "status": stub.status}
    file.write_text(json.dumps(plain))
    parts = UserLibrary(library.folder).parts()
    board, name = take_entry(sample_board(), parts.catalogue, "vias", "through via", known=parts.known)
    words = {field: known_of(board.sources, "vias", via(board, name), field) for field in ("stub_m", "drill_m")}
    assert [one.source if one else "" for one in words.values()] == [stub.source, SAID]
    # Kept in the library of the next designer, what the board knows goes along; the rest is that board's.
    onward = UserLibrary(tmp_path / "next")
    onward.keep(board, "vias", name, "board of the second shelf")
    assert onward.starter().provenance("vias", name, "stub_m") == stub
    assert onward.starter().sources["vias"][name][ALL_OTHERS].source == "board of the second shelf"


def test_a_source_of_an_entry_that_is_not_there_is_refused_with_place_and_remedy(taken):
    lost = replace(taken, sources=(*taken.sources, source_of("cables", via(taken), SAID, "published")))
    (fault,) = check(lost)
    assert str(fault).startswith(f"$.sources[{len(taken.sources)}]: there is no entry")
    assert "remove it" in str(fault)


def test_what_somebody_typed_into_the_file_is_read_as_it_is_meant(taken):
    plain = json.loads(dump_board(taken))
    (of_via,) = (one for one in plain["sources"] if one["section"] == "vias")
    for value in of_via["values"]:
        if value["field"] == "stub_m":
            value["value"] = "0.000600"
        if value["field"] == "drill_m":
            value["value"] = "a quarter"
    board = read_board(json.dumps(plain).encode()).board
    assert "drill was a quarter" in said_of(board)
    assert "stub" not in said_of(board)


def test_versions_tell_where_only_the_source_differs_and_take_it_over_with_the_entry(taken):
    bare = replace(taken, sources=())
    (one, other) = differences(bare, taken)
    assert {one.sentence, other.sentence} == {
        'Catalogue, vias: "through via": what is stated as its source changed.',
        'Catalogue, dielectrics: "laminate": what is stated as its source changed.',
    }
    assert felt_differences(bare, taken) == ()
    (found,) = felt_differences(edited(bare, stub_m=0.0), taken)
    assert isinstance(found.taken, TakenOver)
    assert said_of(found.taken.of(edited(bare, stub_m=0.0))) == said_of(taken)
