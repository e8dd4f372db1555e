"""Which ports of a measured network belong together: guessed from what passes, said in words, confirmed by the user.

A way through joins the two ports between which most gets through at low frequency, where lines still pass and coupling
does not. Two ways whose coupling is strongest are the legs of a pair.
"""

import re

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone.reading import Measured
from workbench.parts.network import Network, PortPair, differential
from workbench.parts.networks.block import block_of
from workbench.parts.networks.curve import bulk_delay_s
from workbench.parts.networks.use import impossible
from workbench.wording import quoted

DIFFERENTIAL_OHM = 80.0
"""A port whose reference is at least this is taken for a whole pair: common practice, no source."""
_LOW_SHARE, _FEWEST_POINTS = 0.2, 8
_CLEAR_DB = 6.0
_COUPLED_DB = 3.0
_NO_COUPLING = 1e-4
_SAME_WAVES = 0.01
_FITS_DB = 1.0
_CLEAR_EARLY = 4.0
"""By so much more energy what couples at one end comes early: 6 dB."""
_EARLY_SHARE = 0.8
_EVEN = 1e-3
_WAY = re.compile(r"(\d{1,2})(?:,(\d{1,2}))?:(\d{1,2})(?:,(\d{1,2}))?")
_HOW = 'state them, such as "1,2:3,4": left positive and negative, right positive and negative'


class PortMap(msgspec.Struct, frozen=True, kw_only=True):
    """What the ports of a network are.

    Attributes:
        pairs: the ways through; the first is what stands in a path, the others couple into it.
        ports_are: "single-ended" where a port is one leg of a pair, else "differential".
        sure: whether the data leave no doubt.
        reasons: sentences, for the user to confirm.
    """

    pairs: tuple[PortPair, ...]
    ports_are: str
    sure: bool
    reasons: tuple[str, ...]


def guessed_ports(measured: Measured) -> PortMap:
    """The ports' meaning as far as the data show it.

    Raises:
        NotStatedError: the data don't show which ports belong together.
        TableError: it has one port or one frequency only.
    """
    ports = measured.ports
    _require_sweep(measured)
    if ports < 2:
        raise TableError(
            measured.source.name, None, "it has one port, and a path needs a through path",
            "overlay it on a lane as a measurement, or import a network of two or more ports",
        )  # fmt: skip
    differential = min(measured.reference_ohm) >= DIFFERENTIAL_OHM
    if ports == 2:
        return _of_two(differential, measured.reference_ohm)
    ways, reasons = _ways_through(measured)
    if differential:
        reasons.append(f"references of {min(measured.reference_ohm):g} ohm: each port counts as a whole pair")
        pairs = tuple(PortPair(left=a, right=b) for a, b in ways)
        return PortMap(pairs=pairs, ports_are="differential", sure=False, reasons=tuple(reasons))
    if len(ways) % 2:
        raise NotStatedError(
            measured.source.name, None, f"{len(ways)} legs can't all form pairs", _HOW, wanted="ports"
        )
    return _paired(measured, ways, reasons)


def stated_ports(words: str, measured: Measured, ports_are: str | None = None) -> PortMap:
    """A port map that the user states.

    Args:
        words: "1,2:3,4" for left positive and negative, right positive and negative; "1:2" for whole ends; several
            ways through after semicolons or blanks.
        measured: whose ports they are.
        ports_are: "single-ended" or "differential"; None: by the references.

    Raises:
        TableError: the words are no such map, or name a port that is not there, or one twice.
    """
    name, pairs = measured.source.name, []
    for way in re.split(r"[;\s]+", re.sub(r"\s*([,:;])\s*", r"\1", words.strip().strip(";"))):
        found = _WAY.fullmatch(way)
        if found is None or (found[2] is None) != (found[4] is None):
            raise TableError(name, None, f"the ports are given as {quoted(way)}", _HOW)
        left, left_minus, right, right_minus = (int(n or 0) for n in found.groups())
        if not left or not right or (found[2] and not (left_minus and right_minus)):
            raise TableError(name, None, "a port is 0", "count ports from 1")
        pairs.append(PortPair(left=left, left_minus=left_minus, right=right, right_minus=right_minus))
    used = [port for pair in pairs for port in pair.ports]
    if max(used) > measured.ports or len(set(used)) < len(used):
        problem = f"of its {measured.ports} ports one is named twice, or one that is not there"
        raise TableError(name, None, problem, "name each port at most once")
    if ports_are is None:
        legs = any(pair.legs == 2 for pair in pairs) or min(measured.reference_ohm) < DIFFERENTIAL_OHM
        ports_are = "single-ended" if legs else "differential"
    return PortMap(pairs=tuple(pairs), ports_are=ports_are, sure=True, reasons=("as stated",))


def _require_sweep(measured: Measured) -> None:
    if np.count_nonzero(measured.f_hz > 0.0) < 2:
        above = " above 0 Hz" if measured.f_hz.size > 1 else ""
        problem = f"it has one frequency{above} only"
        raise TableError(measured.source.name, None, problem, "export a sweep of frequencies")


def network_of(measured: Measured, name: str, ports: PortMap) -> Network:
    """A catalogue entry of a measured network.

    Args:
        measured: the network.
        name: what the catalogue calls it.
        ports: what its ports are.

    Raises:
        TableError: it can't stand in a path.
    """
    made = entry_of(measured, name, ports)
    f_hz, s = made.matrices()
    for pair in made.pairs:
        for problem in impossible(f_hz, differential(made, s, pair)[0]):
            which = f"{way_words(pair)}: " if len(made.pairs) > 1 else ""
            raise TableError(measured.source.name, None, f"{which}{problem.problem}", problem.remedy)
    return made


def entry_of(measured: Measured, name: str, ports: PortMap) -> Network:
    """As `network_of`, whether or not its data make sense in a path.

    Raises:
        TableError: its ports or frequencies are no network's.
    """
    made = Network(
        name=name,
        source=measured.source.name,
        source_sha256=measured.source.sha256,
        ports=measured.ports,
        points=measured.f_hz.size,
        ports_are=ports.ports_are,  # type: ignore[arg-type]  # one of the two words
        reference_ohm=measured.reference_ohm,
        port_names=measured.port_names,
        pairs=ports.pairs,
        data=block_of(measured.f_hz, measured.s),
    )
    for problem in made.problems():
        raise TableError(measured.source.name, None, problem.problem, problem.remedy)
    return made


def way_words(pair: PortPair) -> str:
    """A way through as it is stated: "1,2:3,4", or "1:2"."""
    left = f"{pair.left},{pair.left_minus}" if pair.legs == 2 else f"{pair.left}"
    right = f"{pair.right},{pair.right_minus}" if pair.legs == 2 else f"{pair.right}"
    return f"{left}:{right}"


def _of_two(differential: bool, reference_ohm: tuple[float, ...]) -> PortMap:
    meaning = (
        "its ports count as whole differential pairs" if differential
        else "it counts as one side, P or N, of a pair without coupling"
    )  # fmt: skip
    return PortMap(
        pairs=(PortPair(left=1, right=2),),
        ports_are="differential" if differential else "single-ended",
        sure=False,
        reasons=(f"references of {min(reference_ohm):g} ohm: {meaning}",),
    )


def _levels(measured: Measured) -> Floats:
    """Mean magnitude of every element over the lowest part of the band, shape (ports, ports)."""
    count = max(int(_LOW_SHARE * measured.f_hz.size), _FEWEST_POINTS)
    return np.asarray(np.abs(measured.s[:, :, :count]).mean(axis=2))


def _ways_through(measured: Measured) -> tuple[list[tuple[int, int]], list[str]]:
    """The pairs of ports between which most gets through, from 1, and a sentence on each."""
    level = _levels(measured)
    np.fill_diagonal(level, 0.0)
    level = np.maximum(level, level.T)
    best = level.argmax(axis=1)
    ways, reasons = [], []
    for port, other in enumerate(best):
        others = np.delete(level[port], [port, other])
        lead_db = 20.0 * np.log10(max(level[port, other], 1e-12) / max(float(others.max(initial=0.0)), 1e-12))
        if best[other] != port or lead_db < _CLEAR_DB:
            raise NotStatedError(
                measured.source.name, None,
                f"the data don't show which port belongs to port {port + 1}: several pass alike", _HOW, wanted="ports",
            )  # fmt: skip
        if port < other:
            ways.append((port + 1, int(other) + 1))
            loss_db = -20.0 * np.log10(max(level[port, other], 1e-12))
            lead = "" if lead_db > 200.0 else f", {lead_db:.0f} dB more than to any other"
            reasons.append(f"port {port + 1} passes to port {other + 1} ({loss_db:.1f} dB at low frequency{lead})")
    return ways, reasons


def _paired(measured: Measured, ways: list[tuple[int, int]], reasons: list[str]) -> PortMap:
    left, sure = list(ways), True
    pairs: list[PortPair] = []
    while left:
        first = left.pop(0)
        coupled = sorted((_coupling(measured, first, other), -at) for at, other in enumerate(left))
        strongest, at = coupled[-1][0], -coupled[-1][1]
        next_best = coupled[-2][0] if len(coupled) > 1 else 0.0
        if strongest < _NO_COUPLING or strongest < next_best * 10.0 ** (_COUPLED_DB / 20.0):
            sure, at = sure and len(coupled) == 1, 0
        second = _facing(measured, first, left.pop(at), reasons)
        pairs.append(PortPair(left=first[0], left_minus=second[0], right=first[1], right_minus=second[1]))
    if not sure:
        reasons.append(
            "the coupling does not show which ports are P and N of a pair: pairs of consecutive numbers are assumed"
        )
    reasons.append(f"pairs: {'; '.join(map(way_words, pairs))}")
    return PortMap(pairs=tuple(pairs), ports_are="single-ended", sure=sure, reasons=tuple(reasons))


def _facing(
    measured: Measured, first: tuple[int, int], second: tuple[int, int], reasons: list[str]
) -> tuple[int, int]:
    """The second leg's ports (left, right), its left one beside the first leg's left one.

    What couples between neighbouring ends arrives at once, what couples to the far end not before the flight time. As
    numbered where nothing depends on it.

    Raises:
        NotStatedError: both orders fit within 1 dB, they differ, and the coupling does not tell them apart.
    """
    turned = (second[1], second[0])
    straight_s, turned_s = (_differential(measured, first, other) for other in (second, turned))
    if float(np.abs(straight_s - turned_s).max()) < _SAME_WAVES:
        return second
    near = [_early(measured, first, other) for other in (second, turned)]
    best, rest = sorted((near[0], near[1]), reverse=True)
    if best > _CLEAR_EARLY * rest:
        found = second if near[0] == best else turned
        reasons.append(f"ports {first[0]} and {found[0]} lie at one end: what couples between them comes at once")
        return found
    fits = [20.0 * np.log10(max(float(np.abs(s).mean()), 1e-12)) for s in (straight_s, turned_s)]
    if abs(fits[0] - fits[1]) > _FITS_DB:
        return second if fits[0] > fits[1] else turned
    ways = [f"{first[0]},{other[0]}:{first[1]},{other[1]}" for other in (second, turned)]
    raise NotStatedError(
        measured.source.name, None,
        f"the data don't show which ends of its legs lie together: {ways[0]} and {ways[1]} fit within "
        f"{max(abs(fits[0] - fits[1]), 0.1):.1f} dB", _HOW, wanted="ports",
    )  # fmt: skip


def _differential(measured: Measured, first: tuple[int, int], second: tuple[int, int]) -> Complexes:
    """The differential transmission of two legs, shape (n,), as if all ports had one reference."""
    (a, b), (c, d) = ((one[0] - 1, one[1] - 1) for one in (first, second))
    s = measured.s
    return np.asarray(0.5 * (s[b, a] - s[b, c] - s[d, a] + s[d, c]))


def _early(measured: Measured, first: tuple[int, int], second: tuple[int, int]) -> float:
    """Energy of what couples between ends that would lie together, before the flight time is over.

    By the inverse transform of the band under a Hann window; 0 where the spacing is uneven and no time shows.
    """
    f_hz, s = measured.f_hz, measured.s
    steps = np.diff(f_hz)
    if np.ptp(steps) > _EVEN * steps.mean():
        return 0.0
    size = 4 * f_hz.size
    delay_s = bulk_delay_s(f_hz, s[first[1] - 1, first[0] - 1])
    until = int(_EARLY_SHARE * delay_s * steps.mean() * size)
    window = np.hanning(f_hz.size)
    blur = 2 * size // f_hz.size  # half the window's width in time
    total = 0.0
    for one, other in zip(first, second, strict=True):
        answer = np.abs(np.fft.ifft(s[other - 1, one - 1] * window, size)) ** 2
        total += float(answer[: max(until - blur, 0)].sum())
    return total


def _coupling(measured: Measured, one: tuple[int, int], other: tuple[int, int]) -> float:
    """Mean magnitude between the ports of two ways."""
    between = [(a - 1, b - 1) for a in one for b in other]
    return float(np.mean([np.abs(measured.s[b, a]).mean() for a, b in between]))
