"""The statistical eye beside what was counted, and what is to be thought of a difference."""

from functools import cache

import msgspec

from workbench.codes.choosing import WORDS, pattern_named, pattern_of_coding
from workbench.codes.eight_ten import EightTen
from workbench.codes.tmds import Tmds
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.measures import opening
from workbench.waveform.result import CountedOpening, EyeDoubt, Method, WaveformMeasures

HEIGHT_PER_SWING, WIDTH_UI, ERRORS = 0.02, 0.02, 3.0
"""Both engines agree within this share of the swing, so many UI, or so many standard errors of the counting."""


def with_statistical(measures: WaveformMeasures, memo: Memo, plan: LanePlan, probe: Probe) -> WaveformMeasures:
    """The measures with the statistical eye's at the same error ratios, and how far it is in doubt.

    Symbols count as the pattern sends them: with the line code's states where the profile's own code was sent, else as
    independent.

    Args:
        measures: of a run.
        memo: the store of known results.
        plan: the lane of the run.
        probe: its probe point.
    """
    ratios = dict.fromkeys(one.error_ratio for one in measures.openings)
    coded = measures.pattern == pattern_of_coding(plan.profile.coding, measures.seed).title
    beside = tuple(_statistical(memo, plan, probe, ratio, coded=coded) for ratio in ratios)
    found = msgspec.structs.replace(measures, openings=(*measures.openings, *beside))
    return msgspec.structs.replace(found, doubt=doubt_of(found))


def _statistical(memo: Memo, plan: LanePlan, probe: Probe, ratio: float, *, coded: bool) -> CountedOpening:
    found = observe(memo, plan, probe, ratio, symbols=Symbols.CODED if coded else Symbols.INDEPENDENT)
    method: Method = "statistical" if found.machine is None else "coded"
    seen = opening(found, ratio)
    return CountedOpening(
        error_ratio=ratio, method=method, height_v=seen.height_v, width_s=seen.width_s,
        width_ui=seen.width_s / plan.profile.ui_s,
    )  # fmt: skip


def doubt_of(measures: WaveformMeasures) -> EyeDoubt | None:
    """How far the statistical eye is from what was counted; None where they agree, or where nothing was counted.

    None too where something else was sent than the statistical eye supposes: then they need not agree.
    """
    for seen in measures.openings:
        ideal = measures.opening("coded", seen.error_ratio)
        if ideal is None and measures.pattern in _as_independent():
            ideal = measures.opening("statistical", seen.error_ratio)
        if seen.method != "counted" or ideal is None:
            continue
        height_v = _beyond(ideal.height_v, seen.height_v, HEIGHT_PER_SWING * measures.swing_v, seen.height_error_v)
        if max(ideal.height_v or 0.0, seen.height_v or 0.0) <= 0.0:
            # Both closed: each is then looked at where it is least so, which need not be the same instant.
            height_v = None
        width_ui = _beyond(ideal.width_ui, seen.width_ui, WIDTH_UI, seen.width_error_ui)
        if height_v is not None or width_ui is not None:
            return EyeDoubt(error_ratio=seen.error_ratio, height_v=height_v, width_ui=width_ui)
    return None


@cache
def _as_independent() -> frozenset[str]:
    """Titles of the patterns whose symbols are next to independent."""
    return frozenset(pattern_named(word).title for word in WORDS if word not in (EightTen.word, Tmds.word))


def _beyond(ideal: float | None, seen: float | None, allowed: float, error: float | None) -> float | None:
    if ideal is None or seen is None or abs(ideal - seen) <= max(allowed, ERRORS * (error or 0.0)):
        return None
    return ideal - seen
