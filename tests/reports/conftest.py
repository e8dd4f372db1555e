"""Hand-made assessments: invented figures, so that a report can be read against them."""

import pytest

from workbench.engine.assessment import (
    Assessment,
    EqualizerResult,
    EyeResult,
    Finding,
    LaneAssessment,
    LimitsResult,
    MarginResult,
    PulseResult,
    SpanResult,
    Verdict,
)


def lane_of(
    name: str,
    *,
    height_v: float = 0.4123,
    width_ui: float = 0.812,
    verdict: Verdict = "pass",
    findings: tuple[Finding, ...] = (),
    profile: str = "pcie-2",
    limits: LimitsResult | None = None,
) -> LaneAssessment:
    limits = limits if limits is not None else LimitsResult(height_v=0.12, width_ui=0.32)
    return LaneAssessment(
        lane=name,
        profile=profile,
        rate_bps=5e9,
        nyquist_hz=2.5e9,
        length_m=0.3048,
        loss_db=4.0567,
        spans=(SpanResult(from_="host", to="receiver", loss_db=4.0567, return_loss_db=14.0, delay_s=2e-9),),
        delay_s=2e-9,
        pulse=PulseResult(
            probe="receiver", ui_s=2e-10, samples_per_ui=32, peak_v=0.31, peak_s=2.2e-9, cursors_v=(0.01, 0.31, 0.05)
        ),
        eye=EyeResult(
            probe="receiver", ber=1e-12, height_v=height_v, width_s=width_ui * 2e-10, width_ui=width_ui,
            worst_case_height_v=0.35, center_s=1e-10,
        ),
        equalizer=EqualizerResult(ctle_dc_gain_db=None, dfe_taps_v=()),
        baseline_wander_v=0.001,
        limits=limits,
        margin=MarginResult(
            height_v=None if limits.height_v is None else height_v - limits.height_v,
            width_ui=None if limits.width_ui is None else width_ui - limits.width_ui,
            verdict=verdict,
            judged_by=("eye height 120 mV (an invented document)",),
        ),
        findings=findings,
    )  # fmt: skip


LOSSY = Finding(
    severity="warning",
    rule="loss-budget",
    text="14.2 dB at Nyquist is beyond the usual budget of 11 dB of this interface.",
)
CLOSED = Finding(severity="error", rule="closed-eye", text="The eye is closed at the receiver.")
DEFAULTED = Finding(severity="note", rule="default", text="A value was taken as given by the catalogue.")


@pytest.fixture
def section() -> Assessment:
    return Assessment(
        board="Correlator shelf",
        board_sha256="0" * 64,
        program="0.2.0",
        lanes=(
            lane_of("D0"),
            lane_of("D1", findings=(DEFAULTED,)),
            lane_of("D2", height_v=0.1251, width_ui=0.335, verdict="marginal", findings=(DEFAULTED, LOSSY)),
            lane_of("D3", height_v=-0.051, width_ui=0.0, verdict="fail", findings=(LOSSY, CLOSED)),
            lane_of("D4", height_v=-0.021, width_ui=0.0, verdict="fail", findings=(LOSSY, CLOSED)),
        ),
    )
