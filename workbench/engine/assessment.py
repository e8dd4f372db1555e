"""What the engine finds for a board: the records that `assess --json` prints, keys as the format has them."""

from typing import Literal

import msgspec

FORMAT = "link-margin-assessment"
VERSION = 2

Severity = Literal["note", "warning", "error"]
Statistics = Literal["independent", "coded"]
Verdict = Literal["pass", "not judged", "marginal", "fail"]
"""From best to worst; "not judged" is an open eye where no limit is known, or one without a model of its own."""


class AssessmentRecord(msgspec.Struct, frozen=True, kw_only=True):
    """Base of the assessment's records."""


class SpanResult(AssessmentRecord, frozen=True, kw_only=True):
    """One passive stretch between active points.

    `loss_db` is the insertion loss at Nyquist between matched 100 ohm ends with the end capacitances; `return_loss_db`
    the least return loss up to Nyquist, seen from the driving end; `delay_s` the time of flight at Nyquist.
    """

    from_: str = msgspec.field(name="from")
    to: str
    loss_db: float
    return_loss_db: float
    delay_s: float


class PulseResult(AssessmentRecord, frozen=True, kw_only=True):
    """The pulse response at the probe point: to one symbol of half the swing.

    `peak_s` counts from the start of the symbol at the transmitter; `cursors_v` are the samples one UI apart at the
    sampling phase, from one UI before the main cursor.
    """

    probe: str
    ui_s: float
    samples_per_ui: int
    peak_v: float
    peak_s: float
    cursors_v: tuple[float, ...]


class EyeResult(AssessmentRecord, frozen=True, kw_only=True):
    """The statistical eye at the probe point.

    `height_v` is the peak-to-peak opening at the sampling phase at `ber`, negative where closed; `width_s` the opening
    along time at the threshold, 0 where closed; `worst_case_height_v` the peak-distortion height without noise and
    jitter; `center_s` the sampling instant counted from the mean crossing before it. `statistics` says whether symbols
    count as independent or as the line code sends them; as it sends them, the worst case is that of the code, and
    `worst_sequence` is the sequence that makes it, zeros and ones in the order they are sent. `propagation` is how many
    errors decision feedback makes of each one: the measures hold for an error ratio of `ber` with these counted.
    """

    probe: str
    ber: float
    height_v: float
    width_s: float
    width_ui: float
    worst_case_height_v: float
    center_s: float
    statistics: Statistics = "independent"
    worst_sequence: str | None = None
    propagation: float = 1.0


class EqualizerResult(AssessmentRecord, frozen=True, kw_only=True):
    """What the equalization settled on: the DC gain (null without a CTLE), the DFE's taps, V, the preset chosen.

    `preset` is the transmitter's where its taps come from the profile's best preset, else null.
    """

    ctle_dc_gain_db: float | None
    dfe_taps_v: tuple[float, ...]
    preset: str | None = None


class ChannelResult(AssessmentRecord, frozen=True, kw_only=True):
    """The passive channel of one span against one limit of its profile over frequency.

    `measure` is the limit's word; `value` and `limit` stand in `unit` where the channel comes nearest to the limit (at
    `at_hz`, null where the measure has no frequency), and `margin` is above 0 where it keeps to it. `judged` says
    whether the verdict rests on it: on a published limit of a lane without conditioners.
    """

    measure: str
    from_: str = msgspec.field(name="from")
    to: str
    unit: str
    value: float
    limit: float
    margin: float
    at_hz: float | None
    judged: bool
    status: str
    source: str


class SkewResult(AssessmentRecord, frozen=True, kw_only=True):
    """What the legs of a span's pair differ by, of its channel between matched ends; a figure to compare, not judged.

    `skew_s` is by how much the positive leg is the later one; `loss_db` what of the signal at Nyquist has gone into the
    common mode; `conversion_loss_db` the least conversion loss (-SCD21 in dB) up to Nyquist, at `at_hz`.
    """

    from_: str = msgspec.field(name="from")
    to: str
    skew_s: float
    loss_db: float
    conversion_loss_db: float
    at_hz: float


class AggressorResult(AssessmentRecord, frozen=True, kw_only=True):
    """What another lane beside this one adds at one place: `where` is their bundle, or a part in it that both pass.

    `at` is where that is told: the probe point, or the input of a limiting stage, where it moves the crossings. There
    `rms_v` is over all its phases alike, `peak_v` the most that it can reach at its worst, to either side.
    `height_cost_v` is by how much the eye's height at the sampling phase would be larger without it.
    """

    lane: str
    where: str
    at: str
    rms_v: float
    peak_v: float
    height_cost_v: float


class PowerSumResult(AssessmentRecord, frozen=True, kw_only=True):
    """Crosstalk of one span at its receiving end at Nyquist, between matched ends; a figure to compare, not judged.

    `psnext_db` and `psfext_db` are power sums of the aggressors that run against the lane and along it, dB below their
    sources (null without any), `loss_to_crosstalk_db` how far both lie below what is left of the lane's own signal;
    `icn_v` is the integrated crosstalk noise, rms, after a formula that is not verified.
    """

    from_: str = msgspec.field(name="from")
    to: str
    psnext_db: float | None
    psfext_db: float | None
    loss_to_crosstalk_db: float
    icn_v: float


class CrosstalkResult(AssessmentRecord, frozen=True, kw_only=True):
    """What the lanes beside this one take; `height_v_without` and `width_ui_without` are the eye without any of them.

    `rms_v` and `peak_v` are those of all aggressors at the probe point together, the former as a power sum: a figure to
    compare, which no verdict rests on. `enough_gap_m` is the gap of the worst aggressor's bundle at which the lane
    would pass, where it would without neighbours and they take more than half of its margin; else null.
    """

    height_v_without: float
    width_ui_without: float
    rms_v: float
    peak_v: float
    aggressors: tuple[AggressorResult, ...]
    spans: tuple[PowerSumResult, ...] = ()
    enough_gap_m: float | None = None


class MaskLimitResult(AssessmentRecord, frozen=True, kw_only=True):
    """The profile's mask about the sampling instant: its height, its width and that of its top."""

    height_v: float
    width_ui: float
    flat_ui: float


class LimitsResult(AssessmentRecord, frozen=True, kw_only=True, omit_defaults=True):
    """The profile's limits that the lane was judged by; one that is not known is left out."""

    height_v: float | None = None
    width_ui: float | None = None
    mask: MaskLimitResult | None = None


class MarginResult(AssessmentRecord, frozen=True, kw_only=True, omit_defaults=True):
    """Measure minus limit, and the verdict; `judged_by` names each limit used, with its source.

    `mask_v` is how far the eye stays off the mask where it comes nearest, above and below together; negative where it
    enters it.
    """

    height_v: float | None = None
    width_ui: float | None = None
    mask_v: float | None = None
    verdict: Verdict
    judged_by: tuple[str, ...]


class Finding(AssessmentRecord, frozen=True, kw_only=True):
    """Something a reviewer would flag: its severity, the rule's short name and one sentence."""

    severity: Severity
    rule: str
    text: str


def finding(severity: Severity, rule: str, text: str) -> Finding:
    """A finding of a rule."""
    return Finding(severity=severity, rule=rule, text=text)


class LaneAssessment(AssessmentRecord, frozen=True, kw_only=True):
    """All that is found for one lane."""

    lane: str
    profile: str
    rate_bps: float
    nyquist_hz: float
    length_m: float
    loss_db: float
    spans: tuple[SpanResult, ...]
    delay_s: float
    pulse: PulseResult
    eye: EyeResult
    equalizer: EqualizerResult
    baseline_wander_v: float
    limits: LimitsResult
    margin: MarginResult
    findings: tuple[Finding, ...]
    channel: tuple[ChannelResult, ...] = ()
    crosstalk: CrosstalkResult | None = None
    skew: tuple[SkewResult, ...] = ()


class Assessment(AssessmentRecord, frozen=True, kw_only=True):
    """All that is found for a board. `board_sha256` is of the file's text as it was read.

    `symbols` says which the analysis was asked to count: those that each line code sends, or independent ones.
    """

    format: str = FORMAT
    version: int = VERSION
    board: str
    board_sha256: str
    program: str
    symbols: Statistics = "coded"
    lanes: tuple[LaneAssessment, ...]
