"""Lanes that pass a connector together, from the menu to figures and details."""

import pytest
from msgspec.structs import replace
from PySide6.QtWidgets import QLabel

from tests.board.test_edits_ways import LEVELS, with_network
from workbench.board.model import Board, Component
from workbench.desk.details.form import ELEMENT
from workbench.desk.details.targets import BundleTarget

STRONG = (replace(LEVELS[0], next_db=30.0, fext_db=30.0),)


def board() -> Board:
    made = with_network("ABC")
    edge = replace(made.catalogue.connectors[0], crosstalk=STRONG)
    return replace(made, catalogue=replace(made.catalogue, connectors=(edge,)))


def settled(qtbot, window) -> None:
    qtbot.waitUntil(lambda: not window.runner.busy and "B" in window.computing.assessments, timeout=60_000)


def action(window, name: str):
    return next(one for one in window.actions() + window.menus.all() if one.objectName() == name)


@pytest.fixture
def at_connector(qtbot, window):
    window.document.replace(board(), None)
    window.state.set_lane("B")
    window.state.select_element(1)
    settled(qtbot, window)
    return window


@pytest.mark.campaign
def test_lanes_pass_a_connector_together_as_one_step_and_the_eye_shows_what_it_costs(qtbot, at_connector):
    window = at_connector
    before = window.computing.assessments["B"]
    assert before.crosstalk is None
    together = action(window, "path.together")
    assert together.isEnabled()
    together.trigger()
    qtbot.waitUntil(lambda: window.computing.assessments["B"] is not before, timeout=60_000)
    settled(qtbot, window)
    found = window.computing.assessments["B"]
    assert {one.lane for one in found.crosstalk.aggressors} == {"A", "C"}
    assert {one.where for one in found.crosstalk.aggressors} == {"edge"}
    assert found.eye.height_v < before.eye.height_v
    assert {one.rule for one in found.findings} >= {"crosstalk-levels"}
    ghosts = window.strip.ghosts_shown
    assert {(one.at, one.lane, one.side) for one in ghosts} == {(1, "A", -1), (1, "C", 1)}
    assert all(one.level_db == pytest.approx(30.0, abs=0.1) for one in ghosts)
    action(window, "path.unbundle").trigger()
    assert not window.document.board.bundles
    window.document.undo()
    assert window.document.board.bundles


def test_the_details_of_a_part_in_a_bundle_show_the_lanes_place_and_turn_it(qtbot, at_connector):
    window = at_connector
    action(window, "path.together").trigger()
    window.details.show_page(ELEMENT)
    captions = [label.text() for label in window.details.findChildren(QLabel) if label.isVisible()]
    assert any("Neighbours in edge" in text for text in captions)
    target = next(one.target for one in window.details.forms if isinstance(one.target, BundleTarget))
    place = target.read(window.document.board)
    assert place.place == 2
    window.document.apply("turn", lambda b: target.write(b, replace(place, direction="against")))
    assert window.document.board.bundles[0].against == ("B",)
    assert any(one.against for one in window.strip.ghosts_shown)


@pytest.mark.campaign
def test_a_via_is_passed_by_one_lane_alone(at_connector):
    window = at_connector
    window.document.apply("put a via", lambda b: replace(b, lanes=tuple(
        replace(lane, path=(lane.path[0], Component(part="via"))) for lane in b.lanes)))  # fmt: skip
    window.state.select_element(1)
    assert not action(window, "path.together").isEnabled()
