"""No file, however spoilt, does anything else than read or be refused in one sentence."""

import copy
import json
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.board.sample import sample_board, sample_json
from tests.thinning import some
from workbench.board.model import Board
from workbench.board.reading import plain_json, read_board
from workbench.board.shape import shape_faults
from workbench.board.writing import dump_board
from workbench.errors import BoardFileError

GOOD = dump_board(sample_board())


def reads_or_refuses(data: bytes) -> None:
    refusal = None
    try:
        board = read_board(data).board
    except BoardFileError as error:
        refusal = error
    if refusal is None:
        assert read_board(dump_board(board)).board == board
    else:
        assert str(refusal).isprintable()
        assert all((refusal.place, refusal.problem, refusal.remedy))


def spots(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every (container, key) of decoded JSON."""
    keys = value.keys() if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for key in list(keys):
        yield value, key
        yield from spots(value[key])


BYTE_EDITS = st.tuples(st.integers(0, len(GOOD) - 1), st.binary(max_size=3), st.integers(0, 3))
COUNT = len(list(spots(sample_json())))
VALUES = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(-2, 200), st.sampled_from([10**30, -(10**18)]),
        st.floats(), st.text(max_size=8), st.sampled_from(["run", "none", "ctle", "U1", "card", "by-loss", "\ud800"]),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)),
    max_leaves=4,
)


@st.composite
def mutated(draw: st.DrawFn) -> Any:
    """The sample board with up to three values dropped, replaced, doubled, renamed or swapped."""
    plain = sample_json()
    for _ in range(draw(st.integers(1, 3))):
        places = list(spots(plain))
        holder, key = places[draw(st.integers(0, 10**6)) % len(places)]
        other, other_key = places[draw(st.integers(0, 10**6)) % len(places)]
        match draw(st.sampled_from(["drop", "replace", "double", "rename", "copy"])):
            case "drop":
                del holder[key]
            case "replace":
                holder[key] = draw(VALUES)
            case "copy":
                holder[key] = copy.deepcopy(other[other_key])
            case "double" if isinstance(holder, list):
                holder.insert(key, copy.deepcopy(holder[key]))
            case _ if isinstance(holder, dict):
                holder[draw(st.text(max_size=6))] = holder.pop(key)
    return plain


@settings(max_examples=30)
@given(mutated())
def test_a_mutated_board_reads_or_is_refused(plain: Any) -> None:
    reads_or_refuses(json.dumps(plain).encode())


@pytest.mark.campaign
@settings(max_examples=30)
@given(mutated())
def test_the_walk_that_finds_words_agrees_with_the_quick_reader(plain: Any) -> None:
    data = json.dumps(plain).encode()
    try:
        msgspec.json.decode(data, type=Board)
    except (msgspec.MsgspecError, UnicodeDecodeError):
        assert list(shape_faults(plain_json(data), Board))
    else:
        assert not list(shape_faults(plain_json(data), Board))


@settings(max_examples=30)
@given(st.lists(BYTE_EDITS, min_size=1, max_size=3))
def test_a_board_with_spoilt_bytes_reads_or_is_refused(edits: list[tuple[int, bytes, int]]) -> None:
    data = GOOD
    for at, new, cut in edits:
        data = data[:at] + new + data[at + cut :]
    reads_or_refuses(data)


@given(st.binary(max_size=40))
def test_any_bytes_are_refused_in_a_sentence(data: bytes) -> None:
    with pytest.raises(BoardFileError):
        read_board(data)


@pytest.mark.campaign
@pytest.mark.parametrize("share", some(range(8), 1))
def test_every_value_taken_out_or_set_to_null_reads_or_is_refused(share: int) -> None:
    for number in range(share, COUNT, 8):
        for null in (True, False):
            plain = json.loads(GOOD)
            holder, key = list(spots(plain))[number]
            if null:
                holder[key] = None
            else:
                del holder[key]
            reads_or_refuses(json.dumps(plain).encode())


@pytest.mark.parametrize("keep", range(0, len(GOOD) - 2, 37))
def test_a_file_cut_short_anywhere_is_refused(keep: int) -> None:
    with pytest.raises(BoardFileError):
        read_board(GOOD[:keep])
