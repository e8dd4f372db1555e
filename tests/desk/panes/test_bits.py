"""Bits sent through the lane on screen: what is asked, what is shown, when it is not shown any more."""

import msgspec
import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from tests.desk.panes.pane_views import NEAR, Answers, independent_view_of, plan_for
from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.talk import Talk
from workbench.desk.background.worker import BitsJob, BitsProgress
from workbench.desk.panes.bits import Bits, Wish
from workbench.desk.panes.figures import millivolts
from workbench.desk.panes.kinds.counted import counted_opening, counted_outline, counted_words
from workbench.desk.panes.kinds.density import shades
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.panes.link import PaneLink
from workbench.desk.session.view_state import ShownTrace
from workbench.desk.widgets.theme import LIGHT
from workbench.engine.views import ERROR_RATIOS
from workbench.waveform.result import WaveformResult
from workbench.waveform.settings import WaveformSettings

FIRST = ShownTrace(NEAR, "receiver")
SETTINGS = WaveformSettings(pattern="random", bits=40_000, seed=3, error_ratio=1e-3)


class Waiting(ProcessChannel):
    """A channel that notes what it is asked and lets the test answer."""

    def __init__(self) -> None:
        super().__init__()
        self.job = None
        self.hurried = 0

    def ask(self, job, done, *, progress, failed):
        self.job, self.done, self.progress, self.failed = job, done, progress, failed

    def hurry(self):
        self.hurried += 1


@pytest.fixture(scope="module")
def counted() -> WaveformResult:
    """Random bits through the near lane, by the waveform engine itself."""
    told: list[BitsProgress] = []
    result = BitsJob(plan_for(NEAR), "receiver", SETTINGS).run(Talk(told.append, lambda: None))
    assert told[-1].counted >= told[-1].wanted == 40_000
    return result


@pytest.fixture
def answers(qapp) -> Answers:
    return Answers()


@pytest.fixture
def bits(answers) -> Bits:
    made = Bits(answers)
    made.channel = Waiting()
    return made


@pytest.fixture
def pane(qtbot, document, state, answers, bits) -> EyePane:
    link = PaneLink()
    link.bits = bits
    made = EyePane(document, state, answers, LIGHT, link=link)
    qtbot.addWidget(made)
    made.resize(420, 320)
    made.show()
    answers.answer(FIRST)
    return made


@pytest.mark.campaign
def test_the_counted_outline_is_the_statistical_contour(counted):
    # The two engines know nothing of each other; what differs is the counting error of 40 random errors.
    eye = independent_view_of(NEAR).eye  # as the bits that were sent
    x, y = counted_outline(counted, 1e-3)
    upper = y > 0.0
    contour = np.interp(x[upper], eye.time_ui, eye.contours_v[ERROR_RATIOS.index(1e-3)])
    inside = (x[upper] > 0.3) & (x[upper] < 0.7)
    assert inside.sum() > 20
    swing_v = counted.measures.swing_v
    assert np.abs(y[upper] - contour)[inside].max() < 0.03 * swing_v
    opening = counted_opening(counted)
    assert opening.error_ratio == 1e-3
    assert opening.height_v == pytest.approx(2.0 * contour[inside].max(), abs=0.03 * swing_v)


def test_an_outline_of_counts_by_hand():
    density = np.zeros((4, 8), np.int64)
    density[:, 0] = density[:, 7] = 50  # open but for the outermost levels
    density[1, 4] = 1  # one stray sample just above the threshold
    result = WaveformResult(None, density, 0.4, np.zeros(1), np.zeros(1), np.zeros(1), complete=True)
    x, y = counted_outline(result, 1e-3)  # 0.05 of a sample is allowed: none
    assert sorted(set(np.round(x, 3))) == [0.625, 0.875]
    assert (y.max(), y.min()) == pytest.approx((0.3, -0.3))
    x, _ = counted_outline(result, 0.05)  # 2.5 samples are: the stray one closes nothing
    assert sorted(set(np.round(x, 3))) == [0.125, 0.375, 0.625, 0.875]
    closed = counted_outline(result._replace(density=np.full((4, 8), 9)), 1e-3)
    assert [part.size for part in closed] == [0, 0]


def test_the_words_say_what_was_counted_and_how_often_it_was_wrong(counted):
    opening = counted_opening(counted)
    lines = counted_words(counted, opening).split("\n")
    assert lines[-1] == "no error in 40 000 symbols"
    assert lines[0].startswith("counted ")
    computed = counted.measures.opening("statistical", opening.error_ratio)
    assert computed.height_v == pytest.approx(opening.height_v, abs=0.03 * counted.measures.swing_v)
    assert lines[1].startswith(f"statistical {millivolts(computed.height_v)} mV, ")
    errors = msgspec.structs.replace(counted.measures.errors, errors=1234)
    stopped = counted._replace(measures=msgspec.structs.replace(counted.measures, errors=errors), complete=False)
    assert counted_words(stopped, None) == "1 234 errors in 40 000 symbols, then stopped"


def test_bits_are_asked_for_as_the_line_says_and_shown_until_the_lane_changes(pane, bits, counted, monkeypatch):
    assert not pane.bits_bar.isVisible()
    QTest.mouseClick(pane.bits_switch, Qt.MouseButton.LeftButton)
    assert pane.bits_bar.isVisible()
    bar = pane.bits_bar
    bar.pattern.setCurrentIndex(bar.pattern.findData("prbs15"))
    bar.number.setCurrentIndex(bar.number.findData(100_000))
    bar.seed.setText("7")
    QTest.mouseClick(bar.button, Qt.MouseButton.LeftButton)
    assert bits.wish == Wish("prbs15", 100_000, 7)
    assert bits.channel.job == BitsJob(
        plan_for(NEAR), "receiver", WaveformSettings(pattern="prbs15", bits=100_000, seed=7)
    )
    bits.channel.progress(BitsProgress(25_000, 100_000))
    assert (bar.words.text(), bar.button.text(), bar.seed.isEnabled()) == ("25 % of 100 000 bits", "Stop", False)
    assert bar.words.isVisible()
    assert bar.words.width() > 200
    statistical = pane.image.places.copy()
    bits.channel.done(counted)
    assert (bar.words.text(), bar.button.text(), bar.seed.isEnabled()) == ("", "Send bits", True)
    np.testing.assert_array_equal(pane.image.places, shades(counted.density.astype(float)))
    assert pane.counted.visible
    assert "40 000 symbols" in pane.told.text
    pane.bits_switch.setChecked(False)
    np.testing.assert_array_equal(pane.image.places, statistical)
    assert not pane.counted.visible
    pane.bits_switch.setChecked(True)
    assert pane.counted.visible
    monkeypatch.setattr(pane.computing, "plan_of", lambda _: plan_for("RX15"))  # the lane is another one now
    assert bits.result(FIRST) is None
    pane._follow_bits()
    assert not pane.counted.visible


def test_stopping_asks_for_what_there_is_and_a_refusal_is_said(pane, bits):
    pane.bits_switch.setChecked(True)
    bits.send(FIRST)
    QTest.mouseClick(pane.bits_bar.button, Qt.MouseButton.LeftButton)
    assert bits.channel.hurried == 1
    bits.channel.failed("the run was cancelled before anything was counted; start it again")
    assert not bits.running
    words = pane.bits_bar.words
    assert words.text().startswith("The run was cancelled")
    assert words.isVisible()
    assert words.width() > 0.9 * pane.width()


@pytest.mark.campaign
def test_a_run_in_a_hurry_ends_with_what_it_has():
    settings = WaveformSettings(pattern="random", bits=10_000_000, seed=3)
    told: list[BitsProgress] = []
    result = BitsJob(plan_for(NEAR), "receiver", settings).run(Talk(told.append, lambda: None, lambda: len(told) > 1))
    assert not result.complete
    assert 0 < result.measures.errors.symbols < 10_000_000


def test_panes_of_a_report_offer_no_bits(qtbot, document, state, answers):
    pane = EyePane(document, state, answers, LIGHT)
    qtbot.addWidget(pane)
    assert pane.bits_bar is None
