"""Makers' models in a lane's statistical eye: the same as the program's own parts, and told where they are not run."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import UI_S, assessed, invented_profile, lane_board, plan_of, sourced, trace
from tests.makers.compiled import ami, library_of, use_of, written_as
from workbench.board.model import Stage
from workbench.board.profile import ReceiverLimits
from workbench.engine.lane.lane import observe
from workbench.engine.lane.models.resolved import resolved
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import EyeReach
from workbench.makers import flows
from workbench.makers.session import Library
from workbench.makers.trust import Candidate, Trust, sha256
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.transmitter import taps_for

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))
TAPS = taps_for(preshoot_db=1.9, deemphasis_db=3.5)
CHOSEN = {"taps/-1": TAPS.before, "taps/0": TAPS.main, "taps/1": TAPS.after}

pytestmark = pytest.mark.usefixtures("home")


def figures(lane):
    return [lane.eye.height_v, lane.eye.width_ui, lane.eye.worst_case_height_v, lane.pulse.cursors_v[1]]


def rules(lane):
    return {finding.rule: finding for finding in lane.findings}


def test_a_transmitter_by_its_model_has_the_eye_of_the_programs_own():
    own = assessed(lane_board(PATH, transmitter={"preshoot_db": 1.9, "deemphasis_db": 3.5}))
    lane = assessed(lane_board(PATH, transmitter={"model": use_of("TAPS", CHOSEN)}))
    assert figures(lane) == pytest.approx(figures(own), rel=1e-6)
    assert lane.eye.height_v > 0.02
    assert "model-not-run" not in rules(lane)


def test_a_receivers_model_is_a_filter_of_what_arrives():
    # The same taps after the channel as before it: nothing but taps and channel is there, so the pulse is one.
    own = assessed(lane_board(PATH, transmitter={"preshoot_db": 1.9, "deemphasis_db": 3.5}))
    for most in (0, 2):
        lane = assessed(lane_board(PATH, receiver={"model": use_of("TAPS", CHOSEN, ami(most=most))}))
        assert figures(lane) == pytest.approx(figures(own), rel=1e-4)  # the window ends where 1e-4 is left


def redriver_board(model, output=None, transmitter=None):
    """A lane through a redriver that its maker describes by models."""
    part = ModelConditioner(name="redriver", channels=1, input_model=model, output_model=output, output_limit_v=10.0)
    path = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.3, "lossy"))
    board = lane_board(path, transmitter=transmitter)
    parts = (*board.catalogue.conditioners, part)
    device = replace(board.devices[0], part="redriver", settings=Settings())
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts), devices=(device,))


@pytest.mark.parametrize("at", ["input", "output"])
def test_a_redrivers_models_are_filters_between_two_spans(at):
    plain, taps = use_of("GAIN", {"gain": 1.0}), use_of("TAPS", CHOSEN)
    own = assessed(redriver_board(plain, plain, {"preshoot_db": 1.9, "deemphasis_db": 3.5}))
    lane = assessed(redriver_board(taps, plain) if at == "input" else redriver_board(plain, taps))
    assert figures(lane) == pytest.approx(figures(own), rel=2e-5)  # the band ends a little elsewhere


def test_a_gain_scales_all_that_arrives_noise_included():
    model = use_of("GAIN", {"gain": 0.5})
    own = assessed(lane_board(PATH, receiver={"noise_v": 2e-3}))
    lane = assessed(lane_board(PATH, receiver={"noise_v": 2e-3, "model": model}))
    assert np.array(figures(lane))[[0, 2, 3]] == pytest.approx(0.5 * np.array(figures(own))[[0, 2, 3]], rel=1e-4)
    assert lane.eye.width_ui == pytest.approx(own.eye.width_ui, rel=1e-4)


@pytest.mark.campaign
def test_a_receiver_that_fits_itself_is_asked_with_the_response_that_arrives():
    # It brings the area of the response to 1 V, whatever the channel: so the settled level is half of that.
    for path in (PATH, PATH[:1]):
        observed = observe(Memo(), plan_of(lane_board(path, receiver={"model": use_of("ADAPTS")})),
                           resolve_probe(plan_of(lane_board(path)), "receiver"), 1e-12)  # fmt: skip
        assert observed.received.waves.step_v[-1] == pytest.approx(0.5, rel=1e-3)
        assert any("adapted well" in note for note in observed.notes)


def test_what_a_model_states_takes_the_place_of_the_parts_own_figures():
    reserved = '(Tx_Rj (Usage Info) (Type UI) (Value 0.01) (Description "own"))'
    model = use_of("TAPS", CHOSEN, ami(reserved=reserved))
    plan = resolved(Memo(), plan_of(lane_board(PATH, transmitter={"model": model, "random_jitter_s": 9e-12})))
    assert plan.transmitter.random_jitter_s == pytest.approx(0.01 * UI_S)
    lane = assessed(lane_board(PATH, transmitter={"model": model}))
    assert "Tx_Rj = 0.01 UI: random jitter, rms, 2 ps" in rules(lane)["model-says"].text


def test_noise_at_the_decision_is_added_behind_the_model():
    reserved = '(Rx_Noise (Usage Info) (Type Float) (Value 0.004) (Description "own"))'
    board = lane_board(PATH, receiver={"model": use_of("GAIN", {"gain": 1.0}, ami(reserved=reserved))})
    plan = plan_of(board)
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).received
    assert received.noise_v == pytest.approx(0.004, rel=1e-2)


@pytest.mark.parametrize(
    ("use", "says"),
    [
        (lambda: use_of("TAPS", trusted=False), "is not trusted on this computer"),
        (lambda: use_of("CRASH"), "crashed (SIGSEGV)"),
        (lambda: use_of("REFUSE"), 'reports failure: "the corner is beyond what I know"'),
        (lambda: use_of("TAPS", {"taps/9": 1}), 'has no input "taps/9"'),
        (lambda: use_of("TAPS", {}, ami(returns=False)), "does not return its response"),
    ],
)
@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_a_model_that_is_not_run_is_told_and_the_stated_figures_stand_in_its_place(use, says, end):
    known = invented_profile(limits=ReceiverLimits(at="pins", height_v=sourced(0.01), width_ui=sourced(0.1)))
    own = assessed(lane_board(PATH, transmitter={"deemphasis_db": 2.0}, profile=known))
    ends = {"transmitter": {"deemphasis_db": 2.0}, "receiver": {}}
    ends[end]["model"] = use()
    lane = assessed(lane_board(PATH, **ends, profile=known))
    told = rules(lane)["model-not-run"]
    assert told.severity == "error"
    assert says in told.text
    assert "are used instead, and the lane is not judged" in told.text
    assert figures(lane) == figures(own)
    assert (own.margin.verdict, lane.margin.verdict) == ("pass", "not judged")


def test_a_model_is_run_once_for_one_state_and_again_once_it_is_trusted(monkeypatch):
    runs = counted(monkeypatch)
    use = use_of("TAPS", CHOSEN, trusted=False)
    memo, board = Memo(), lane_board(PATH, transmitter={"model": use})
    assert "model-not-run" in rules(assessed(board, memo=memo))
    assert runs == []
    use_of("TAPS", CHOSEN)
    first = assessed(board, memo=memo)
    assert len(runs) == 1
    assert "model-not-run" not in rules(first)
    assert assessed(board, memo=memo) == first
    longer = lane_board((trace(0.4, "lossy"), *PATH[1:]), transmitter={"model": use})
    assessed(longer, memo=memo)
    assert len(runs) == 1  # its filter does not hang on the lane
    Trust().remove(use.library_sha256)
    assert "model-not-run" in rules(assessed(board, memo=memo))


def test_no_model_is_run_for_a_picture_of_the_moment(monkeypatch):
    runs = counted(monkeypatch)
    ends = {"transmitter": {"model": use_of("TAPS", CHOSEN)}, "receiver": {"model": use_of("GAIN", {"gain": 0.5})}}
    memo, plan = Memo(), plan_of(lane_board(PATH, **ends))
    probe = resolve_probe(plan, "receiver")
    observe(memo, plan, probe, 1e-12, reach=EyeReach.PICTURE)
    assert runs == []
    settled = observe(memo, plan, probe, 1e-12)
    before = len(runs)
    longer = plan_of(lane_board((trace(0.31, "lossy"), *PATH[1:]), **ends))
    moving = observe(memo, longer, probe, 1e-12, reach=EyeReach.PICTURE)
    assert len(runs) == before
    exact = observe(memo, longer, probe, 1e-12)
    assert len(runs) > before
    pulses = [one.received.waves.pulse_v.max() for one in (settled, moving, exact)]
    assert pulses[1] == pytest.approx(pulses[2], rel=1e-4)
    assert pulses[0] != pytest.approx(pulses[2], rel=1e-3)


def counted(monkeypatch):
    """Every run of a model's code from now on."""
    runs = []

    class Counting(flows.Session):
        def __enter__(self):
            runs.append(self)
            return super().__enter__()

    monkeypatch.setattr(flows, "Session", Counting)
    return runs


def for_another_machine(data: bytes) -> bytes:
    """The library with another processor in its ELF header (e_machine at 18): arm64 for x86-64, and the other way."""
    other = 62 if data[18] == 183 else 183
    return data[:18] + bytes([other, 0]) + data[20:]


WINDOWS = b"MZ" + bytes(58) + (0x40).to_bytes(4, "little") + b"PE\0\0" + (0x8664).to_bytes(2, "little") + bytes(64)


@pytest.mark.parametrize(
    ("bytes_of", "system"), [(for_another_machine, "Linux on"), (lambda _: WINDOWS, "Windows on x86-64")],
    ids=["another processor", "another system"],
)  # fmt: skip
@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_a_model_for_another_platform_is_one_sentence_and_the_lane_is_not_judged(end, bytes_of, system):
    file, library = ami(), library_of("TAPS")
    other = Library("other.so", bytes_of(library.data))
    Trust().add(Candidate(file, written_as[file.sha256], other, "Invented"))
    use = replace(use_of("TAPS"), library=other.name, library_sha256=sha256(other.data))
    own = assessed(lane_board(PATH))
    judged = invented_profile(limits=ReceiverLimits(at="pins", height_v=sourced(0.01)))
    lane = assessed(lane_board(PATH, profile=judged, **{end: {"model": use}}))
    [found] = [one for one in lane.findings if one.rule == "model-not-run"]
    assert found.severity == "error"
    assert f"its library is for {system}" in found.text
    assert "take the one for it" in found.text
    assert found.text.count(".") == found.text.count(".so")  # one sentence
    assert lane.margin.verdict == "not judged"
    assert lane.eye.height_v == pytest.approx(own.eye.height_v)
