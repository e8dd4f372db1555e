"""Where a finding leads, and what is advised: from the board and the manual, without a widget."""

import re

from workbench.board.model import Run, Stage
from workbench.desk.app import demo_board
from workbench.desk.findings.listed import advice, place_of
from workbench.resources import resource


def test_every_finding_of_the_manual_has_its_advice():
    rules = re.findall(r'<dt id="([\w-]+)">', resource("help", "findings.html").read_text(encoding="utf-8"))
    assert len(rules) > 10
    for rule in rules:
        assert len(advice(rule)) > 40
        assert "<" not in advice(rule)
    assert advice("no such rule") == ""


def test_a_finding_leads_to_the_longest_name_that_it_mentions():
    board = demo_board()
    lane = next(one for one in board.lanes if any(isinstance(element, Stage) for element in one.path))
    stage = next(n for n, element in enumerate(lane.path) if isinstance(element, Stage))
    ref = lane.path[stage].device
    assert place_of(board, lane.name, f"the swing at {ref} is 0.2 V, less than it should be") == stage
    assert place_of(board, lane.name, f"the swing at {ref}9 is 0.2 V") is None
    run = next(n for n, element in enumerate(lane.path) if isinstance(element, Run))
    assert place_of(board, lane.name, f"{lane.path[run].line} is lossy; so is {ref}") == run
