"""The manual's figures on routing beside neighbours are what the program says, and the program says what physics does.

Between two planes there is no far-end crosstalk, over one plane it outweighs the near end: so the answers differ.
"""

import re

import pytest

from tests.reference.sent.routing_questions import before_and_after, gaps, interleaved_and_grouped
from workbench.resources import resource

TOLD = re.sub(r"\s+", " ", resource("help/studies.html").read_text(encoding="utf-8"))


def told(words: str) -> float:
    """The number that the manual has before some words."""
    found = re.search(rf"([\d.]+) {re.escape(words)}", TOLD)
    assert found is not None, words
    return float(found[1])


def test_inner_lanes_are_better_grouped_and_outer_ones_better_interleaved():
    found = interleaved_and_grouped()
    assert found["inner"][1] < 0.7 * found["inner"][0]
    assert found["outer"][0] < 0.2 * found["outer"][1]
    assert told("mV where inner lanes alternate") == pytest.approx(found["inner"][0], rel=0.05)
    assert told("mV where they keep together") == pytest.approx(found["inner"][1], rel=0.05)
    assert told("mV where outer lanes alternate") == pytest.approx(found["outer"][0], rel=0.05)
    assert told("mV where those keep together") == pytest.approx(found["outer"][1], rel=0.05)


@pytest.mark.campaign
def test_an_inner_layer_saves_more_than_a_wider_gap():
    found = gaps()
    outer, inner = found["outer, along"], found["inner, against"]
    assert outer[0.3] > outer[0.5] > outer[0.8] > inner[0.3] > inner[0.5]
    assert told("mV at 0.8 mm on the outer layer") == pytest.approx(outer[0.8], rel=0.05)
    assert told("mV at 0.3 mm on the inner one") == pytest.approx(inner[0.3], rel=0.05)


@pytest.mark.campaign
def test_a_limiting_conditioner_after_the_noisy_stretch_loses_less():
    found = before_and_after()
    lost = {name: found[f"{name}, alone"] - found[f"{name}, beside"] for name in ("after", "before")}
    assert lost["after"] < 0.4 * lost["before"]
    assert told("mV with a limiting conditioner after it") == pytest.approx(lost["after"], rel=0.1)
    assert told("mV with one before it") == pytest.approx(lost["before"], rel=0.1)
