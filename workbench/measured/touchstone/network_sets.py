"""Network files, one a setting, as a conditioner: settings from the files' names, matrices from their content."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes
from workbench.errors import ModelError, NotStatedError, TableError
from workbench.makers.name_patterns import MOST_NAMES, NamePattern, Readings, guessed_pattern, pattern_of, readings
from workbench.measured.touchstone.doubts import largest_singular
from workbench.measured.touchstone.ports import PortMap, entry_of, guessed_ports
from workbench.measured.touchstone.quality import Aspect, quality_of
from workbench.measured.touchstone.reading import Measured, read_touchstone
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.network_set import NetworkSetConditioner, SettingNetwork, boost_db, words_of
from workbench.parts.conditioners.table import TableSetting
from workbench.parts.network import PortPair, differential
from workbench.parts.networks.block import block_of
from workbench.parts.networks.use import impossible
from workbench.parts.networks.waves import renormalized
from workbench.parts.record import Parts
from workbench.parts.twoport import REFERENCE_OHM
from workbench.quantity import show
from workbench.wording import quoted

_OF_PASSIVE = ("passivity", "reciprocity")
_LOW_SHARE = 0.05
_EXPECTED = ("it amplifies", "both directions differ")
"""What is told of a network that was read and is a conditioner's nature."""
MOST_GAIN = 30.0
"""An amplifier of 30 dB is no conditioner: of more the format is asked about; common practice, no source."""
OPEN = "the files hold neither compression (1 V is taken), noise nor jitter (none): set them on the part"


class FoundSettings(NamedTuple):
    """Which settings a pattern reads from the names of files, and what stops them from being a set.

    Attributes:
        pattern: the pattern; None where it is none.
        names: the files' names.
        settings: of each name that fits.
        fault: a sentence; "" where nothing is wrong.
        left_out: the names that don't fit.
    """

    pattern: NamePattern | None
    names: tuple[str, ...]
    settings: dict[str, Settings]
    fault: str = ""
    left_out: tuple[str, ...] = ()


class ReadSet(NamedTuple):
    """A conditioner, how each file's network looked, and sentences on what was guessed and left out."""

    part: NetworkSetConditioner
    aspects: tuple[tuple[str, tuple[Aspect, ...]], ...]
    notes: tuple[str, ...]


def network_files(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Network files among some paths, those inside of folders in their place, by name.

    Raises:
        ModelError: there is none, or two of one name.
    """
    found: list[Path] = []
    for path in paths:
        found += sorted(one for one in path.iterdir() if _is_network(one)) if path.is_dir() else [path]
    if not found:
        raise ModelError(f"there is no network file (.s2p, .s4p, .ts) in {quoted(str(paths[0]) if paths else '')}")
    names = [one.name for one in found]
    twice = next((name for at, name in enumerate(names) if name in names[:at]), None)
    if twice is not None:
        raise ModelError(f"two files are called {quoted(twice)}; take one of them")
    if len(found) > MOST_NAMES:
        raise ModelError(f"{len(found):,} files are more than the {MOST_NAMES:,} settings that a part can have here")
    return tuple(found)


def _is_network(path: Path) -> bool:
    ending = path.suffix.casefold()
    return ending == ".ts" or (ending.startswith(".s") and ending.endswith("p") and ending[2:-1].isdigit())


def read_active(path: Path, *, ports: int | None = None, trusted: bool = False) -> Measured:
    """A conditioner's network: as `read_touchstone`, but that it amplifies is no doubt about its format.

    Args:
        path: the file.
        ports: how many ports it has, where neither its name nor its content says it.
        trusted: True where its format is known to be right.

    Raises:
        TableError: the file can't be read, or breaks the format.
        NotStatedError: what its numbers mean has to be stated.
    """
    try:
        return read_touchstone(path, ports=ports, trusted=trusted)
    except NotStatedError:
        taken = read_touchstone(path, ports=ports, trusted=True)
        gain = float(largest_singular(taken.s).max())
        if gain > MOST_GAIN:
            raise
        told = f"it amplifies {gain:.3g} times, and its format is taken at its word, since a conditioner amplifies"
        return taken._replace(notes=(*taken.notes, told))


def settings_in(names: Sequence[str], pattern: str = "") -> FoundSettings:
    """The settings in file names, by a pattern as it is typed; "": guessed from the names."""
    endings = dict.fromkeys(Path(name).suffix.casefold() for name in names)
    if len(endings) > 1 and not pattern.strip():
        kinds = " and ".join(list(endings)[:2])
        return FoundSettings(None, tuple(names), {}, f"the files end in {kinds}; take those of one kind")
    try:
        used = pattern_of(pattern) if pattern.strip() else guessed_pattern(names)
    except ModelError as error:
        return FoundSettings(None, tuple(names), {}, str(error))
    read = readings(used, names)
    settings = {
        name: Settings(dict(zip(used.controls, values, strict=True))) for name, values in read.settings.items()
    }
    return FoundSettings(used, tuple(names), settings, _fault(used, read), read.others)


def _fault(pattern: NamePattern, read: Readings) -> str:
    if not read.settings:
        return f"no file fits the pattern {quoted(pattern.text)}; correct it"
    if read.twice:
        values, files = read.twice[0]
        words = words_of(Settings(dict(zip(pattern.controls, values, strict=True))))
        return f"{words} has two files, {quoted(files[0])} and {quoted(files[1])}; correct the pattern, or take one out"
    have = set(read.settings.values())
    for wanted in _combinations(list(read.settings.values())):
        if wanted not in have:
            words = words_of(Settings(dict(zip(pattern.controls, wanted, strict=True))))
            return f"{words} has no file; add it, or leave out all of one of these positions"
    return ""


def _combinations(rows: list[tuple[str, ...]]) -> Iterator[tuple[str, ...]]:
    found: list[tuple[str, ...]] = [()]
    for column in zip(*rows, strict=True):
        found = [(*one, value) for one in found for value in dict.fromkeys(column)]
    yield from found


def read_set(
    found: FoundSettings,
    read: Callable[[str], Measured],
    *,
    name: str,
    ports_of: Callable[[Measured], PortMap] = guessed_ports,
    channels: int = 1,
    rate_bps: float | None = None,
) -> ReadSet:
    """A conditioner of network files.

    Args:
        found: their settings.
        read: reads a file by its name.
        name: what the catalogue is to call the part.
        ports_of: what a file's ports are.
        channels: how many lanes one device serves.
        rate_bps: the rate that bands are looked at for, bit/s; None: for none.

    Raises:
        ModelError: the names make no set.
        TableError: a file can't be read, or is no conditioner's network.
        NotStatedError: what its numbers or ports mean has to be stated.
    """
    if found.fault:
        raise ModelError(found.fault)
    networks, aspects = [], []
    by_sentence: dict[str, list[str]] = {}
    for file in sorted(found.settings, key=lambda one: _in_order(found.settings[one])):
        measured = read(file)
        network, told = _network(measured, ports_of(_both_ways(measured)), words_of(found.settings[file]))
        networks.append(network)
        aspects.append((file, _aspects(network, rate_bps)))
        for sentence in told:
            by_sentence.setdefault(sentence, []).append(file)
    part = NetworkSetConditioner(
        name=name, channels=channels, settings=_rows(found), networks=tuple(networks)
    )
    notes = [f"{_whose(files, len(networks))}: {sentence}" for sentence, files in by_sentence.items()]
    notes += [*_grids(networks), *part.remarks(Parts()), *_left_out(found), OPEN]
    return ReadSet(part, tuple(aspects), tuple(notes))


def _whose(files: list[str], of: int) -> str:
    if len(files) == of > 1:
        return "every file"
    return f"in {files[0]}" if len(files) == 1 else f"in {files[0]} and {len(files) - 1} more"


def _in_order(settings: Settings) -> tuple[tuple[float, str], ...]:
    """Positions that are numbers by their size, others after them by name."""
    return tuple(_place(position) for position in settings.values())


def _place(position: str) -> tuple[float, str]:
    try:
        return float(position), position
    except ValueError:
        return float("inf"), position


def _rows(found: FoundSettings) -> tuple[TableSetting, ...]:
    assert found.pattern is not None
    rows = []
    for control in found.pattern.controls:
        positions = sorted({one[control] for one in found.settings.values()}, key=_place)
        rows += [TableSetting(control=control, setting=position) for position in positions]
    return tuple(rows)


def _network(measured: Measured, ports: PortMap, settings: str) -> tuple[SettingNetwork, list[str]]:
    """A file as a differential two-port in 100 ohm, input first, and what was guessed for it."""
    entry = entry_of(measured, measured.source.name, ports)
    f_hz, s = entry.matrices()
    two_port, left_ohm, right_ohm = differential(entry, s, entry.pairs[0])
    two_port = renormalized(two_port, (left_ohm, right_ohm), (REFERENCE_OHM, REFERENCE_OHM))
    reasons = ports.reasons[-1:] if ports.sure else ports.reasons
    told = [*reasons, *(one for one in measured.notes if not one.startswith(_EXPECTED))]
    if _passes(two_port, 0, 1) > _passes(two_port, 1, 0):
        two_port = two_port[::-1, ::-1]
        told.append("it passes more from right to left, so its right end is the input")
    for problem in impossible(f_hz, two_port):
        raise TableError(measured.source.name, None, problem.problem, problem.remedy)
    made = SettingNetwork(
        settings=settings, source=measured.source.name, source_sha256=measured.source.sha256, points=f_hz.size,
        data=block_of(f_hz, np.ascontiguousarray(two_port)),
    )  # fmt: skip
    for problem in made.problems():
        raise TableError(measured.source.name, None, problem.problem, problem.remedy)
    return made, told


def _both_ways(measured: Measured) -> Measured:
    """The network as if it passed backwards what it passes forwards, for the guess of its ports."""
    back = np.swapaxes(measured.s, 0, 1)
    return measured._replace(s=np.where(np.abs(measured.s) >= np.abs(back), measured.s, back))


def _passes(s: Complexes, row: int, column: int) -> float:
    count = max(int(_LOW_SHARE * s.shape[2]), 8)
    return float(np.abs(s[row, column, :count]).mean())


def _aspects(network: SettingNetwork, rate_bps: float | None) -> tuple[Aspect, ...]:
    """A network's quality card, without what only passive networks are."""
    f_hz, s = network.matrices()
    pair = (PortPair(left=1, right=2),)
    card = quality_of(f_hz, s, (REFERENCE_OHM, REFERENCE_OHM), pair, rate_bps)
    return tuple(one for one in card.aspects if one.about not in _OF_PASSIVE)


def _grids(networks: list[SettingNetwork]) -> Iterator[str]:
    """Networks whose frequencies are not those of most: each is continued on its own, and that is told once."""
    grids: dict[bytes, list[SettingNetwork]] = {}
    for one in networks:
        grids.setdefault(one.matrices().f_hz.tobytes(), []).append(one)
    most, *others = sorted(grids.values(), key=len, reverse=True)
    if not others:
        return
    odd = others[0][0]
    more = sum(map(len, others)) - 1
    also = f" and {more} more" if more else ""
    yield (
        f"other frequencies in {odd.source}{also} ({_band(odd)}) than in {most[0].source} ({_band(most[0])}): each is "
        "continued on its own beyond them"
    )


def _band(network: SettingNetwork) -> str:
    f_hz = network.matrices().f_hz
    low, high = show(float(f_hz[0]), "Hz", digits=3), show(float(f_hz[-1]), "Hz", digits=4)
    return f"{f_hz.size:,} points from {low} to {high}"


def _left_out(found: FoundSettings) -> Iterator[str]:
    if found.left_out:
        more = f" and {len(found.left_out) - 1} more" if len(found.left_out) > 1 else ""
        yield f"left out, since the pattern does not fit: {found.left_out[0]}{more}"


def summary(network: SettingNetwork) -> str:
    """A network in one line: its points, gain at rest and boost."""
    size = np.abs(network.transmission.values)
    rest_db = 20.0 * np.log10(max(float(size[0]), 1e-9))
    return f"{_band(network)}, gain {rest_db:.1f} dB, boost {boost_db(network):.1f} dB"


def poor(aspects: Sequence[Aspect]) -> tuple[str, ...]:
    """What of a network's quality is to be looked at, as sentences."""
    return tuple(f"{one.about} {one.word}: {one.text}" for one in aspects if one.word in ("poor", "inconclusive"))
