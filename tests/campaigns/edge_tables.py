"""Jitter, widths and decision feedback: the statistical eye beside whole lanes folded in the time domain.

    python -m tests.campaigns.edge_tables [jitter] [widths] [feedback]

Every line: a lane, the error ratio, the statistical eye's height (% of the swing) and width (UI) less those of
`tests.reference.sent.folded_lanes`. Feedback's errors are counted with bits decided one by one. Exit status 1 where
something is further off than the issue's figures.
"""

import sys
from typing import NamedTuple

import numpy as np

from tests.campaigns.edge_lanes import Seen, seen
from tests.lanes import invented_profile, lane_board, trace
from tests.reference.passive.single_pole import open_between, signal_of, single_pole
from tests.reference.sent.folded_lanes import FoldedLane, ends_at, level_at, step_of
from workbench.parts.receiver import Ctle, Dfe

SWING_V = 1.0
HEIGHT_SHARE, WIDTH_UI, STILL_WIDTH_UI = 0.005, 0.01, 0.003
CTLE = Ctle(first_pole_hz=1.25e9, second_pole_hz=5e9, dc_gain_db=(-6.0,))
INDEPENDENT = (np.zeros(2, int), np.zeros(2, int), np.array([-1.0, 1.0]), np.full(2, 0.5)), np.ones(1)


class Case(NamedTuple):
    """A lane: its length of a lossy or (shorter than 0.1 m) ideal line, its jitter in UI, what else is asked of it."""

    length_m: float
    random_ui: float = 0.0
    deterministic_ui: float = 0.0
    coded: bool = False
    taps_db: tuple[float, float] = (0.0, 0.0)
    ctle: bool = False
    dfe: Dfe = Dfe()
    noise_v: float = 2e-3
    rise_ui: float = 0.2

    @property
    def told(self) -> str:
        """In words."""
        parts = [f"{self.length_m} m", "8b/10b" if self.coded else "independent"]
        if self.random_ui:
            parts.append(f"Rj {self.random_ui:g} UI")
        if self.deterministic_ui:
            parts.append(f"Dj {self.deterministic_ui:g} UI")
        if any(self.taps_db):
            parts.append("pre-shoot {:g}, de-emphasis {:g} dB".format(*self.taps_db))
        if self.ctle:
            parts.append("CTLE")
        if self.dfe.taps:
            parts.append(f"{self.dfe.taps} taps" + (f" to {self.dfe.limit_v} V" if self.dfe.limit_v else ""))
        if self.rise_ui != 0.2:
            parts.append(f"rise {self.rise_ui:g} UI")
        return ", ".join(parts)

    def board(self):
        """The lane on a board."""
        ui_s = 2e-10
        profile = invented_profile(coding="8b/10b" if self.coded else "scrambled")
        return lane_board(
            (trace(self.length_m, "lossy" if self.length_m >= 0.1 else "trace"),),
            transmitter={
                "random_jitter_s": self.random_ui * ui_s, "deterministic_jitter_s": self.deterministic_ui * ui_s,
                "preshoot_db": self.taps_db[0], "deemphasis_db": self.taps_db[1], "rise_time_s": self.rise_ui * ui_s,
            },
            receiver={"noise_v": self.noise_v, "dfe": self.dfe} | ({"equalizer": CTLE} if self.ctle else {}),
            profile=profile,
        )  # fmt: skip


JITTER = [
    Case(0.05, 0.01), Case(0.05, 0.02), Case(0.05, 0.035), Case(0.05, 0.05),
    Case(0.05, 0.0195, 0.1), Case(0.3, 0.01), Case(0.3, 0.02), Case(0.3, 0.05), Case(0.6, 0.02), Case(0.6, 0.05),
    Case(0.3, 0.02, coded=True), Case(0.3, 0.05, coded=True), Case(0.6, 0.035, coded=True),
    Case(0.4, 0.02, 0.06, taps_db=(0.0, 3.5)), Case(0.4, 0.02, taps_db=(1.9, 3.5)), Case(0.6, 0.02, 0.05, ctle=True),
    Case(0.6, 0.05, ctle=True), Case(0.6, 0.02, dfe=Dfe(taps=2)),
    Case(0.6, 0.035, ctle=True, dfe=Dfe(taps=2), coded=True),
]  # fmt: skip
WIDTHS = [Case(length, coded=coded) for length in (0.05, 0.3, 0.6, 0.8) for coded in (True, False)] + [
    Case(0.6, coded=True, taps_db=(0.0, 3.5)), Case(0.6, coded=True, ctle=True), Case(0.6, coded=True, dfe=Dfe(taps=2)),
    Case(0.6, coded=True, ctle=True, dfe=Dfe(taps=2)), Case(0.3, coded=True, noise_v=5e-4),
    Case(0.3, coded=True, rise_ui=0.0), Case(0.3, rise_ui=0.0), Case(0.6, coded=True, rise_ui=0.0),
]  # fmt: skip
FEEDBACK = [
    Case(0.6, dfe=Dfe(taps=5)), Case(0.9, dfe=Dfe(taps=1, limit_v=(0.05,))), Case(1.1, dfe=Dfe(taps=2)),
    Case(0.8, ctle=True, dfe=Dfe(taps=2)), Case(1.1, dfe=Dfe(taps=3, limit_v=(0.03, 0.02, 0.02))),
    Case(0.7, 0.01, dfe=Dfe(taps=5)), Case(0.8, ctle=True, coded=True, dfe=Dfe(taps=2)),
]  # fmt: skip
STRONG = [(0.9, 2, 0.06), (1.1, 2, 0.04), (1.1, 5, 0.05), (1.3, 5, 0.04), (1.5, 5, 0.03)]
"""Length, taps, noise: many errors of one."""
_STANDS = 0.01


def folded(case: Case, found: Seen) -> FoldedLane:
    """The lane for the folding."""
    transitions, share = found.code if found.code is not None else INDEPENDENT
    return FoldedLane(
        step_of(found.step_v, found.per_ui), transitions, share, found.noise_v,
        (case.random_ui, case.deterministic_ui), found.taps, tuple(found.held_v),
    )  # fmt: skip


def compared(case: Case, ratio: float, width_ui: float) -> bool:
    """Print height and width less the folded ones; whether both are as near as they should be."""
    found = seen(case.board(), ratio, case.coded)
    lane = folded(case, found)
    own = ratio / found.propagation
    off = (found.height_v - 2.0 * level_at(lane, found.at_ui, own)) / SWING_V
    low, high = ends_at(lane, own, *found.ends_ui) if found.width_ui else (0.0, 0.0)
    # Feedback may open the eye as far as the crossing before; the unit interval begins there.
    wide = found.width_ui - (high - max(low, found.from_ui))
    line = f"{case.told} | {ratio:.0e} | {found.height_v * 1e3:.1f} mV, {found.width_ui:.4f} UI"
    sys.stdout.write(f"{line} | {100.0 * off:+.2f} % | {wide:+.4f} UI\n")
    sys.stdout.flush()
    return abs(off) < HEIGHT_SHARE and abs(wide) < width_ui


def place_of(lane: FoldedLane, dfe: Dfe, near_ui: float) -> tuple[float, np.ndarray]:
    """Where decision feedback's rule is fulfilled by the taps that are taken there, UI, and these taps, V.

    Mueller and Mueller 1976: the first cursor before equals what feedback leaves of the first after. Coming from late,
    the first such place; a tap that is not at its limit leaves nothing, and then the loop creeps on towards the pulse's
    beginning ever slower: it counts as standing where what is left is 1 % of the main cursor (no source).
    """
    limit = np.array(dfe.limit_v or [np.inf] * dfe.taps)
    x = np.linspace(near_ui + 0.4, near_ui - 0.5, 20_001)
    after = lane.pulse(x + 1.0)
    left = lane.pulse(x - 1.0) - (after - np.clip(after, -limit[0], limit[0]))
    stands = np.flatnonzero(left <= _STANDS * lane.pulse(x))
    passed = np.flatnonzero(left <= -_STANDS * lane.pulse(x))
    first = int(stands[0])
    if passed.size:
        first += int(np.abs(left[first : passed[0] + 1]).argmin())
    return float(x[first]), np.clip(lane.pulse(x[first] + 1.0 + np.arange(dfe.taps)), -limit, limit)


def counted(lane: FoldedLane, at_ui: float, noise_v: float, streams: int = 4000, bits: int = 3000) -> tuple[float, int]:
    """Errors with feedback of what was decided over errors with feedback of what was sent, and how many the latter are.

    Independent bits through a still lane, decided one by one; drawn by a fixed number.
    """
    chance, behind, ahead = np.random.default_rng(1403), 40, 4
    cursors = lane.pulse(at_ui + np.arange(-ahead, behind + 1))
    held = np.array(lane.held_v)
    sent = chance.choice(np.array([-1.0, 1.0]), size=(behind + bits + ahead, streams))
    decided = sent.copy()
    alone = wrong = 0
    for n in range(behind, behind + bits):
        came = cursors[::-1] @ sent[n - behind : n + ahead + 1]
        came += chance.normal(0.0, noise_v, streams)
        last = slice(n - 1, n - 1 - held.size, -1)
        decided[n] = np.where(came - held @ decided[last] < 0.0, -1.0, 1.0)
        wrong += int((decided[n] != sent[n]).sum())
        alone += int(((came - held @ sent[last]) * sent[n] < 0.0).sum())
    return wrong / alone, alone


def fed_back(case: Case, ratio: float = 1e-12) -> bool:
    """Print by how much feedback misses its rule, where it samples beside our own place, and the heights there."""
    found = seen(case.board(), ratio, case.coded)
    lane = folded(case, found)
    at, taps = place_of(lane, case.dfe, found.at_ui)
    there = lane._replace(held_v=tuple(taps))
    height_v = 2.0 * level_at(there, at, ratio / found.propagation)
    off = (found.height_v - height_v) / SWING_V
    after = lane.pulse(found.at_ui + 1.0)
    missed_v = float(lane.pulse(found.at_ui - 1.0) - (after - found.held_v[0]))
    line = f"{case.told} | rule missed by {1e3 * missed_v:+.1f} mV | place {found.at_ui - at:+.4f} UI"
    sys.stdout.write(f"{line} | {found.height_v * 1e3:.1f} mV | {100.0 * off:+.2f} % of the swing\n")
    sys.stdout.flush()
    return abs(off) < HEIGHT_SHARE and abs(found.at_ui - at) < 0.05


def propagated(length_m: float, taps: int, noise_v: float) -> bool:
    """Print how many errors feedback makes of one, by the statistical eye at 1e-3 and counted with noise to match."""
    case = Case(length_m, dfe=Dfe(taps=taps), noise_v=noise_v)
    found = seen(case.board(), 1e-3, False)
    share, errors = counted(folded(case, found), found.at_ui, found.noise_v)
    line = f"{case.told}, noise {1e3 * noise_v:g} mV | {found.propagation:.3f} | counted {share:.3f} of {errors} errors"
    sys.stdout.write(f"{line} | height {found.height_v * 1e3:.1f} mV at 1e-3\n")
    sys.stdout.flush()
    return abs(found.propagation / share - 1.0) < 0.15


def at_once(tau_ui: float, ratio: float) -> bool:
    """Print the width of a pole's eye whose edges take no time, whose step response has a closed form."""
    wide = open_between(signal_of(single_pole(tau_ui * 2e-10), rise_ui=0.0), ratio, 4e-3)
    lane = FoldedLane(lambda x: np.where(x < 0.0, 0.0, -np.expm1(-np.maximum(x, 0.0) / tau_ui)), *INDEPENDENT, 4e-3)
    low, high = ends_at(lane, ratio, *wide)
    off = (wide[1] - wide[0]) - (high - low)
    sys.stdout.write(f"a pole of {tau_ui:g} UI, rise 0 | {ratio:.0e} | {wide[1] - wide[0]:.4f} UI | {off:+.4f} UI\n")
    sys.stdout.flush()
    return abs(off) < STILL_WIDTH_UI


def main(wanted: tuple[str, ...]) -> int:
    """Print the tables that are wanted, all without a word; 1 if anything is further off than it should be."""
    wanted = wanted or ("jitter", "widths", "feedback")
    good = []
    if "jitter" in wanted:
        good += [compared(case, ratio, WIDTH_UI) for case in JITTER for ratio in (1e-12, 1e-15)]
    if "widths" in wanted:
        good += [compared(case, 1e-12, STILL_WIDTH_UI) for case in WIDTHS]
        good += [at_once(tau_ui, 1e-12) for tau_ui in (0.1, 0.15, 0.3, 0.45)]
    if "feedback" in wanted:
        good += [fed_back(case) for case in FEEDBACK]
        good += [propagated(*lane) for lane in STRONG]
    sys.stdout.write(f"{sum(good)} of {len(good)} within what they should be\n")
    return int(not all(good))


if __name__ == "__main__":
    sys.exit(main(tuple(sys.argv[1:])))
