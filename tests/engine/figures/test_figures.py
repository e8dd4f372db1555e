"""Every figure has an entry, every check that an entry names is there, and the numbers put in give the number shown."""

import ast
import itertools
import re
from functools import cache
from pathlib import Path
from types import NoneType
from typing import get_args, get_type_hints
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest
from msgspec.structs import replace
from scipy.optimize import brentq
from scipy.special import log_ndtr

from tests.engine.test_eye_mask import masked
from tests.lanes import invented_profile, lane_board, sourced, trace
from tests.reference.neighbours.test_neighbours import shared
from tests.reference.neighbours.test_ways import through_connector
from tests.thinning import sparing
from workbench.board.library import builtin_profiles
from workbench.board.model import Board, Component, Guard, Stage
from workbench.board.profile import ReceiverLimits
from workbench.board.reading import load_board
from workbench.engine.assessment import LaneAssessment
from workbench.engine.figures.entry import ExplainedLane, figure_at
from workbench.engine.figures.explaining import FIGURES, Explanation, case_of, chain, entry_for, explain
from workbench.engine.figures.expression import Known, Value, is_closed, symbols_of, value_of
from workbench.errors import WorkbenchError
from workbench.parts.receiver import Ctle, Dfe
from workbench.quantity import parse, show
from workbench.resources import project, resource

ROOT = Path(__file__).parents[3]
BESIDE_JSON = {
    "path[].loss_db", "path[].share", "normalized_margin", "nyquist_gain_db", "impedance_ohm[]", "height_budget.main_v",
    "height_budget.intersymbol_v", "height_budget.noise_v", "height_budget.neighbours_v", "height_budget.remainder_v",
}  # fmt: skip
"""What is shown and explained though the JSON of a lane does not have it."""
KR = builtin_profiles()["10gbase-kr"]
CTLE = Ctle(first_pole_hz=1.25e9, second_pole_hz=5e9, dc_gain_db=(-6.0, -3.0, 0.0))
LIMITED = invented_profile(limits=ReceiverLimits(at="pins", height_v=sourced(0.1), width_ui=sourced(0.3)))
COUPLED = (trace(0.1, "lossy"), Component(part="small"), trace(0.02, "step"))


def numeric_keys(kind: type[msgspec.Struct], before: str = "") -> set[str]:
    """The keys of every number in a record's JSON, ``[]`` where there are several, from the types alone."""
    hints, found = get_type_hints(kind), set()
    for field in msgspec.structs.fields(kind):
        key, hint = f"{before}{field.encode_name}", hints[field.name]
        arms = [arm for arm in get_args(hint) if arm is not NoneType and arm is not Ellipsis]
        inner = arms[0] if arms else hint
        key += "[]" if str(hint).startswith("tuple") else ""
        if isinstance(inner, type) and issubclass(inner, msgspec.Struct):
            found |= numeric_keys(inner, f"{key}.")
        elif inner in (int, float):
            found.add(key)
    return found


def test_every_number_of_a_lanes_json_has_an_entry_and_no_entry_is_left_over() -> None:
    keys = numeric_keys(LaneAssessment)
    assert len(keys) > 35
    assert {one.key for one in FIGURES} == keys | BESIDE_JSON


@cache
def named_tests(path: str) -> set[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize("figure", FIGURES, ids=lambda one: f"{one.key} {one.symbol.name}")
def test_every_entry_is_whole_and_names_tests_that_exist(figure) -> None:
    assert figure.checks
    assert figure.meaning.endswith(".")
    assert figure.off
    for check in figure.checks:
        path, name = check.test.split("::")
        assert name.startswith("test_")
        assert name in named_tests(path), check.test
        assert check.source
        assert check.tolerance not in ("", "as the test says")
    closed = figure.formula is None or is_closed(figure.formula)
    assert closed or figure.method, "a formula that names a method says which"


def test_every_finding_that_an_entry_names_has_its_section() -> None:
    known = re.findall(r'id="([a-z-]+)"', resource("help", "findings.html").read_text(encoding="utf-8"))
    assert {rule for one in FIGURES for rule in one.outside} <= set(known)


def of_demo(name: str, lane: str) -> tuple[Board, str]:
    return load_board(project(f"{name}.board.json")).board, lane


def of_lane(**changes: object) -> tuple[Board, str]:
    return lane_board(COUPLED, profile=changes.pop("profile", LIMITED), **changes), "D0"


CASES = {
    "coded": lambda: of_demo("correlator-shelf", "RX2"),
    "conditioned": lambda: of_demo("recorder-bay", "DISC7"),
    "random": lambda: of_lane(receiver={"noise_v": 2e-3, "random_jitter_s": 1e-12}),
    "feedback": lambda: of_lane(receiver={"noise_v": 2e-3, "dfe": Dfe(taps=2)}),
    "stage": lambda: (lane_board((trace(0.2, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))), "D0"),
    "guardless": lambda: (replace(of_lane()[0], guard=Guard(height_v=0.0, width_ui=0.0)), "D0"),
    "beside": lambda: (shared(), "B"),
    "against": lambda: (shared(against=("A",)), "B"),
    "together": lambda: (through_connector(names="ABC", against=("C",)), "B"),
    "equalized": lambda: of_lane(receiver={"noise_v": 2e-3, "equalizer": CTLE}),
    "skewed": lambda: (lane_board((replace(trace(0.3, "lossy"), skew_s=4e-11, mismatch_m=1e-3),)), "D0"),
    "masked": lambda: (masked(0.1, 0.3, 0.1), "D0"),
    "channel": lambda: (lane_board((trace(0.002, "step"), trace(0.3, "lossy")), profile=KR), "D0"),
}


@cache
def case_named(name: str) -> ExplainedLane:
    board, lane = CASES[name]()
    return case_of(board, lane)


def paths_of(case: ExplainedLane) -> list[str]:
    """Every figure that a lane has."""
    found = []
    for key in dict.fromkeys(one.key for one in FIGURES):
        bare = key.removesuffix("[]")
        pending = [bare]
        while "[]" in pending[0]:
            head = pending[0].split("[]", 1)[0]
            try:
                count = len(figure_at(case, head) or ())
            except KeyError:
                count = 0
            pending = [one.replace("[]", f"[{n}]", 1) for one in pending for n in range(count)] or [""]
        found += [path for path in pending if path and known_at(case, path) is not None]
    return found


def known_at(case: ExplainedLane, path: str) -> Value | None:
    try:
        return figure_at(case, path)
    except KeyError:
        return None


def as_shown(value: Value, unit: str) -> Value:
    """A value as its reader has it: rounded to what is printed."""
    if isinstance(value, tuple):
        return tuple(as_shown(one, unit) for one in value)
    if isinstance(value, complex):
        return complex(float(f"{value.real:.5g}"), float(f"{value.imag:.5g}"))
    return parse(show(value, unit), unit=unit) if unit in {"V", "s", "m", "dB", "UI", "Hz"} else value


def size_of(known: Known, unit: str) -> float:
    """The sum of the sizes of all inputs in a unit: what rounding each to four digits may add up to."""
    return float(sum(np.abs(np.atleast_1d(value)).sum() for value, own in known.values() if own == unit))


@pytest.mark.campaign
@pytest.mark.parametrize("name", sparing(CASES, "guardless", "random"))
def test_the_numbers_put_in_give_the_number_shown(name: str) -> None:
    case, closed = case_named(name), 0
    for path in paths_of(case):
        found = explain(case, path)
        key, at = re.sub(r"\[\d+\]", "[]", path), tuple(map(int, re.findall(r"\[(\d+)\]", path)))
        entry = entry_for(case, key if any(one.key == key for one in FIGURES) else f"{key}[]", at)
        known = {one.symbol: (one.value, one.unit) for one in found.inputs}
        assert found.inputs, path
        if entry.formula is None:
            assert found.inputs[0].value == found.value
            continue
        assert {one.name for one in symbols_of(entry.formula)} <= set(known), path
        assert found.numbers
        if not is_closed(entry.formula):
            continue
        closed += 1
        assert value_of(entry.formula, known) == pytest.approx(found.value, rel=1e-9, abs=1e-12), path
        rounded = {symbol: (as_shown(value, unit), unit) for symbol, (value, unit) in known.items()}
        floor = 5e-3 if path == "normalized_margin" else 1e-3 if found.unit == "dB" else 0.0  # two decimals are shown
        allowed = max(2e-3 * abs(found.value), 1e-3 * size_of(known, found.unit), floor)
        assert value_of(entry.formula, rounded) == pytest.approx(found.value, abs=allowed), path
    assert closed >= 8


def test_the_cases_reach_every_entry() -> None:
    """Else a formula would be there that nothing has put numbers into."""
    reached = set()
    for name in CASES:
        case = case_named(name)
        for path in paths_of(case):
            key, at = re.sub(r"\[\d+\]", "[]", path), tuple(map(int, re.findall(r"\[(\d+)\]", path)))
            key = key if any(one.key == key for one in FIGURES) else f"{key}[]"
            reached.add(FIGURES.index(entry_for(case, key, at)))
    assert [FIGURES[n].key for n in set(range(len(FIGURES))) - reached] == []


def test_a_height_leads_down_to_the_loss_of_each_element_and_the_fields_it_is_made_of() -> None:
    case = case_named("random")
    found = {one.path: one for one in chain(case, "height")}
    assert {"eye.height_v", "pulse.cursors_v", "pulse.peak_v", "spans[0].loss_db", "path[0].loss_db"} <= set(found)
    fields = {one.where for one in found["path[0].loss_db"].inputs}
    assert "lines/lossy/conductor_loss_db_per_m" in fields


def test_a_loss_budget_names_its_remainder() -> None:
    """80 ohm after 100 ohm: something is left over; matched all through, nothing is."""
    stepped = {one.symbol: one.value for one in explain(case_named("random"), "spans[0].loss_db").inputs}
    plain = case_of(lane_board((trace(0.2, "lossy"), trace(0.1, "lossy"))), "D0")
    matched = {one.symbol: one.value for one in explain(plain, "spans[0].loss_db").inputs}
    assert abs(stepped["m"]) > 1e-3
    assert matched["m"] == pytest.approx(0.0, abs=1e-3)
    assert matched["e"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", ["random", "beside", "feedback"])
def test_a_height_budget_adds_up_with_the_remainder_named(name: str) -> None:
    case = case_named(name)
    parts = case.values["height_budget"]
    assert sum(parts.values()) == pytest.approx(case.found.eye.height_v, abs=1e-12)
    assert parts["main_v"] > 0.0 > parts["intersymbol_v"]
    assert parts["main_v"] + parts["intersymbol_v"] == pytest.approx(case.found.eye.worst_case_height_v, abs=1e-9) or (
        case.found.eye.statistics != "independent" or name == "beside"
    )
    assert (parts["neighbours_v"] < 0.0) == (name == "beside")
    below = {one.path for one in chain(case, "height_budget.remainder_v")}
    assert {"height_budget.main_v", "height_budget.intersymbol_v", "eye.height_v"} <= below


def test_a_loss_budget_adds_up_with_the_remainder_named() -> None:
    case = case_named("random")
    given = {one.symbol: one.value for one in explain(case, "spans[0].loss_db").inputs}
    assert sum(given["a_k"]) + given["m"] + given["e"] == pytest.approx(case.found.spans[0].loss_db, abs=1e-9)
    shares = [one["share"] for one in case.values["path"]]
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)
    assert shares[0] == pytest.approx(given["a_k"][0] / sum(given["a_k"]), rel=1e-12)


def test_a_normalized_margin_is_that_of_limits_and_guards_by_hand() -> None:
    case = case_named("random")
    eye, guard = case.found.eye, case.board.guard
    by_hand = min((eye.height_v - 0.1) / guard.height_v, (eye.width_ui - 0.3) / guard.width_ui)
    assert case.values["normalized_margin"] == pytest.approx(by_hand + min(eye.height_v, 0.0) / guard.height_v)


def test_a_still_lanes_height_is_that_of_all_its_cursors_signs() -> None:
    """From the explanation's own inputs: every combination of the 12 loudest cursors, the rest by their variance."""
    case = case_of(lane_board((trace(0.4, "lossy"),), receiver={"noise_v": 4e-3}), "D0")
    given = {one.symbol: one.value for one in explain(case, "height").inputs}
    cursors = np.array(given["p_k"])
    others = sorted(np.delete(cursors, 1), key=abs, reverse=True)
    signs = np.array(list(itertools.product((-1.0, 1.0), repeat=min(12, len(others)))))
    means = cursors[1] + signs @ np.array(others[:12])
    sigma_v = float(np.hypot(given["σ_n"], np.sqrt(np.sum(np.square(others[12:])))))

    def log_below(level_v: float) -> float:
        return float(np.logaddexp.reduce(log_ndtr((level_v - means) / sigma_v)) - np.log(means.size))

    level_v = brentq(lambda v: log_below(v) - np.log(given["ε"]), -1.0, 1.0)
    assert case.found.eye.height_v == pytest.approx(2.0 * level_v, abs=0.01)  # of a swing of 1 V


def test_sources_and_defaults_are_told_apart() -> None:
    case = case_named("random")
    limit = explain(case, "limits.height_v").inputs[0]
    assert (limit.origin, limit.source, limit.status) == ("profile", "invented for tests", "from memory")
    origins = {one.where: one.origin for one in explain(case, "pulse").inputs}
    assert origins["transmitters/host/swing_v"] == "catalogue"
    assert origins["transmitters/host/deemphasis_db"] == "default"


@pytest.mark.campaign
def test_a_lane_outside_the_range_says_so_with_the_finding() -> None:
    board = lane_board((trace(0.2),), transmitter={"random_jitter_s": 2e-11})
    found = explain(case_of(board, "D0"), "height")
    assert not found.inside
    assert found.doubts
    assert explain(case_named("random"), "loss").inside


@pytest.mark.parametrize(
    ("name", "words"),
    [("hight", "height"), ("spans[].loss_db", "spans[0].loss_db"), ("spans[7].loss_db", "has no spans[7].loss_db")],
)
def test_what_is_no_figure_is_refused_in_a_sentence(name: str, words: str) -> None:
    with pytest.raises(WorkbenchError) as refused:
        explain(case_named("random"), name)
    assert words in str(refused.value)


def test_a_figure_that_the_lane_has_not_is_none() -> None:
    found: Explanation = explain(case_named("stage"), "margin.height_v")
    assert found.value is None
    assert found.inputs == ()


def test_formulas_are_well_formed_mathml() -> None:
    for path in paths_of(case_named("random")):
        tree = ElementTree.fromstring(explain(case_named("random"), path).mathml)
        assert tree.tag.endswith("math")
