"""What of a board can vary: catalogue values, properties of a fitted device, lengths; by a word or one by one.

- a word: ``loss``, ``copper loss``, ``impedance``, ``permittivity``, ``length``, ``boost``, ``swing``, ``gain``,
  ``emphasis``, ``gap`` (between neighbours), ``skew`` (of each lane's pair), ``noise``, ``random jitter``,
  ``deterministic jitter``; of everything that has it, or of one entry, line or device: ``impedance:card trace``,
  ``length:card trace``, ``boost:U1``; of a control's positions those in use; the impedance of a line that is given by
  its cross-section varies by the width of its traces;
- any number of the catalogue by its path, ``SECTION/NAME/FIELD`` such as ``vias/through via/stub_m``; ``*`` for every
  name; a field of a record inside follows with one more slash: ``foils/standard/roughness/rms_m``;
- any number of one fitted device: ``devices/U1/input_noise_v``.
"""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import msgspec
from msgspec.structs import replace

from workbench.board.edits.changes import Change
from workbench.board.index import Index, section_names
from workbench.board.model import COMPONENT_SECTIONS, RUN_SECTIONS, Board, Component, Device, Run, Stage
from workbench.errors import StudyError
from workbench.facts import fact_of, facts_of
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.record import RunRecord
from workbench.studies.variation.widths import WIDTH, has_width, width_power
from workbench.wording import any_of, instead, quoted

Path = tuple[str | int, ...]
"""From a record to a number in it: names of fields, and places in tuples."""

RUN, LEGS = "run", "legs"
"""Stand for a section where a number is the length of a run, or the skew of a run or fixture; the name is the lane's,
the path its place."""


class NumberSpot(NamedTuple):
    """A number of the board.

    Attributes:
        section, name: the catalogue entry; for a run's length or a skew `RUN` or `LEGS` and the lane's name.
        path: the number in it.
        power: how a relative deviation counts: the number is multiplied by (1 + deviation) to this power.
        layer: what varies as one where each layer varies by itself.
        unit: the number's unit.
    """

    section: str
    name: str
    path: Path
    power: float
    layer: str
    unit: str


class Values(Change, frozen=True):
    """Numbers of the catalogue set: (section, name, path, value) each."""

    values: tuple[tuple[str, str, Path, float], ...]

    def of(self, board: Board) -> Board:
        """The board with the numbers set."""
        sections: dict[str, dict[str, list[tuple[Path, float]]]] = {}
        for section, name, path, value in self.values:
            sections.setdefault(section, {}).setdefault(name, []).append((path, value))
        changed = {
            section: tuple(_set_all(entry, names.get(entry.name, [])) for entry in getattr(board.catalogue, section))
            for section, names in sections.items()
        }
        return replace(board, catalogue=replace(board.catalogue, **changed))


def _set_all(entry: Any, values: list[tuple[Path, float]]) -> Any:  # noqa: ANN401 - a record of any section
    for path, value in values:
        entry = with_number(entry, path, value)
    return entry


def with_number(record: Any, path: Path, value: float) -> Any:  # noqa: ANN401 - a record, a tuple or a number
    """A record (or tuple) with the number at a path set."""
    if not path:
        return value
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*record[:first], with_number(record[first], rest, value), *record[first + 1 :])
    return replace(record, **{first: with_number(getattr(record, first), rest, value)})


def number_at(board: Board, spot: NumberSpot) -> float:
    """The number that a board has at a spot."""
    if spot.section in {RUN, LEGS}:
        lane = next(one for one in board.lanes if one.name == spot.name)
        at = spot.path[0]
        assert isinstance(at, int)
        return float(getattr(lane.path[at], "length_m" if spot.section == RUN else "skew_s"))
    found: Any = next(entry for entry in getattr(board.catalogue, spot.section) if entry.name == spot.name)
    for step in spot.path:
        found = found[step] if isinstance(step, int) else getattr(found, step)
    return float(found)


class _Field(NamedTuple):
    """A field of every entry of a section that has it; "*" in the path stands for every place of a tuple."""

    section: str
    path: tuple[str, ...]
    power: float = 1.0


_COPPER = (
    _Field("lines", ("conductor_loss_db_per_m",)),
    _Field("cables", ("conductor_loss_db_per_m",)),
    # Skin-effect loss goes with the root of the resistivity: a factor on loss is its inverse square on conductivity.
    _Field("foils", ("conductivity_s_per_m",), -2.0),
)
WORDS: dict[str, tuple[_Field, ...]] = {
    "loss": (
        *_COPPER,
        _Field("lines", ("dielectric_loss_db_per_m",)),
        _Field("cables", ("dielectric_loss_db_per_m",)),
        _Field("dielectrics", ("loss_tangent",)),
        _Field("connectors", ("loss_db",)),
    ),
    "copper loss": _COPPER,
    "impedance": tuple(_Field(section, ("impedance_ohm",)) for section in ("lines", "cables", "connectors")),
    "permittivity": tuple(_Field(section, ("permittivity",)) for section in ("lines", "cables", "dielectrics")),
    "boost": (_Field("conditioners", ("equalization", "*", "boost_db")),),
    "swing": (
        _Field("transmitters", ("swing_v",)),
        _Field("conditioners", ("swing", "*", "swing_v")),
    ),
    "gain": (_Field("conditioners", ("swing", "*", "gain_db")),),
    "emphasis": (
        _Field("transmitters", ("deemphasis_db",)),
        _Field("conditioners", ("emphasis", "*", "deemphasis_db")),
    ),
    "gap": (_Field("couplings", ("gap_m",)),),
    "noise": (_Field("conditioners", ("input_noise_v",)), _Field("receivers", ("noise_v",))),
    "random jitter": tuple(
        _Field(section, ("random_jitter_s",)) for section in ("transmitters", "conditioners", "receivers")
    ),
    "deterministic jitter": tuple(
        _Field(section, ("deterministic_jitter_s",)) for section in ("transmitters", "conditioners", "receivers")
    ),
}
LENGTH, SKEW = "length", "skew"
DEVICES = "devices"


def spots_of(board: Board, on: str) -> tuple[Board, tuple[NumberSpot, ...]]:
    """The numbers that a tolerance is on, and the board to find them on.

    Where one device of several of its part is meant, the board gets a part of its own for it, with the same values.

    Args:
        board: the board.
        on: as the module says.

    Raises:
        StudyError: there is no such word, section, name, device or field.
    """
    word, _, name = on.partition(":")
    if word == LENGTH:
        return board, _lengths(board, name)
    if word == SKEW:
        return board, _skews(board, name)
    if word in WORDS:
        return _by_word(board, word, name)
    section, _, rest = on.partition("/")
    if section == DEVICES:
        ref, field = _name_and_field(rest, [device.ref for device in board.devices])
        board, part = _own_part(board, ref)
        return board, _numbers(board, "conditioners", part, field, on)
    if section not in section_names() or not rest:
        raise _unknown(on)
    entry, field = _name_and_field(rest, [entry.name for entry in getattr(board.catalogue, section)])
    return board, _numbers(board, section, entry, field, on)


def _name_and_field(rest: str, names: Sequence[str]) -> tuple[str, str]:
    """What follows a section, split; a name may have slashes itself, and the longest that fits is meant."""
    named = max((name for name in names if rest == name or rest.startswith(f"{name}/")), key=len, default="")
    name = named or rest.partition("/")[0]
    return name, rest[len(name) + 1 :]


def _unknown(on: str) -> StudyError:
    section, colon, rest = on.partition(":")
    if colon and section in (*section_names(), DEVICES):
        name, _, field = rest.rpartition(":")
        meant = "/".join((section, name or rest or "NAME", (field if name else "") or "FIELD"))
        return StudyError(f"{quoted(on)} is not a path into the catalogue, which has slashes; write {quoted(meant)}")
    words = any_of((*WORDS, LENGTH, SKEW), most=20)
    return StudyError(
        f"nothing is known as {quoted(on)}; write {words}, or SECTION/NAME/FIELD such as "
        '"lines/card trace/impedance_ohm"'
    )


def reached_by(board: Board, lanes: Sequence[str]) -> frozenset[tuple[str, str]]:
    """The catalogue entries, as (section, name), that lanes are made of, and their runs as (`RUN`, lane)."""
    sections = {
        (section, entry.name): entry for section in section_names() for entry in getattr(board.catalogue, section)
    }
    parts = {device.ref: device.part for device in board.devices}
    couplings = {bundle.name: bundle.coupling for bundle in board.bundles}
    found: set[tuple[str, str]] = set()
    for lane in board.lanes:
        if lane.name not in lanes:
            continue
        names: list[tuple[tuple[str, ...], str]] = []
        names += [(("transmitters",), lane.transmitter), (("receivers",), lane.receiver)]
        for element in lane.path:
            match element:
                case Run(line=name, bundle=bundle):
                    names.append((RUN_SECTIONS, name))
                    if bundle is not None and (coupling := couplings[bundle]) is not None:
                        names.append((("couplings",), coupling))
                case Component(part=name):
                    names.append((COMPONENT_SECTIONS, name))
                case Stage(device=ref):
                    names.append((("conditioners",), parts[ref]))
        found |= {(RUN, lane.name), (LEGS, lane.name)}
        while names:
            on, name = names.pop()
            for key in ((section, name) for section in on if (section, name) in sections):
                found.add(key)
                names += [(wanted, other) for _, wanted, other in sections[key].references()]
    return frozenset(found)


def _by_word(board: Board, word: str, name: str) -> tuple[Board, tuple[NumberSpot, ...]]:
    wanted = name
    if name in {device.ref for device in board.devices}:
        board, wanted = _own_part(board, name)
    used = _named(board, wanted) if wanted else None
    spots = tuple(
        spot
        for field in WORDS[word]
        for entry in getattr(board.catalogue, field.section)
        if used is None or entry.name == wanted
        for spot in _spots_in(entry, field)
        if _in_use(board, entry, spot)
    )
    if word == "impedance":
        sections = (line for line in board.catalogue.lines if used is None or line.name == wanted)
        spots += tuple(_width_of(board, line) for line in sections if has_width(line))
    if not spots:
        what = f"{quoted(name)} has no {word}" if name else f"nothing on the board has a {word}"
        raise StudyError(f"{what} that could vary; a cross-section varies by its own fields, as SECTION/NAME/FIELD")
    return board, spots


def _width_of(board: Board, line: RunRecord) -> NumberSpot:
    """The width of a cross-section's traces, which varies so that the impedance varies as declared."""
    return NumberSpot("lines", line.name, (WIDTH,), width_power(board, line), f"lines/{line.name}", "m")


def _in_use(board: Board, entry: Any, spot: NumberSpot) -> bool:  # noqa: ANN401 - as above
    """Whether any device is set to the position of a control that a number belongs to; True for what is none."""
    control = str(spot.path[0])
    if not isinstance(entry, Conditioner) or control not in entry.control_names():
        return True
    at = spot.path[1]
    assert isinstance(at, int)
    position = entry.positions(control)[at].setting
    return any(
        one.get(control) == position
        for device in board.devices
        if device.part == entry.name
        for one in (device.settings, *(device.on_channel(own.channel) for own in device.channels))
    )


def _named(board: Board, name: str) -> str:
    known = tuple(entry.name for section in section_names() for entry in getattr(board.catalogue, section))
    if name not in known:
        devices = tuple(device.ref for device in board.devices)
        raise StudyError(
            f"there is no {quoted(name)} to vary; {instead(name, (*known, *devices), 'name an entry or a device')}"
        )
    return name


def _spots_in(entry: Any, field: _Field) -> Iterator[NumberSpot]:  # noqa: ANN401 - a record of any section
    for path, owner in _paths(entry, field.path, ()):
        last = path[-1]
        assert isinstance(last, str)
        fact = fact_of(type(owner), last)
        yield NumberSpot(field.section, entry.name, path, field.power, f"{field.section}/{entry.name}", fact.unit)


def _paths(record: Any, path: tuple[str, ...], before: Path) -> Iterator[tuple[Path, Any]]:  # noqa: ANN401 - as above
    """The paths that a pattern stands for, each with the record that holds the number."""
    first, rest = path[0], path[1:]
    if first == "*":
        for at, element in enumerate(record if isinstance(record, tuple) else ()):
            yield from _paths(element, rest, (*before, at))
    elif first in getattr(record, "__struct_fields__", ()):
        if not rest:
            if isinstance(getattr(record, first), float):
                yield (*before, first), record
        else:
            yield from _paths(getattr(record, first), rest, (*before, first))


def _numbers(board: Board, section: str, name: str, field: str, on: str) -> tuple[NumberSpot, ...]:
    entries = [entry for entry in getattr(board.catalogue, section) if name in ("*", entry.name)]
    if not entries:
        known = tuple(entry.name for entry in getattr(board.catalogue, section))
        remedy = instead(name, known, "name another")
        raise StudyError(f"in {quoted(on)}, there is no {quoted(name)} among the {section}; {remedy}")
    path = tuple(field.split("/"))
    spots = tuple(spot for entry in entries for spot in _spots_in(entry, _Field(section, path)))
    if not spots:
        known = tuple(dict.fromkeys(one for entry in entries for one in _number_fields(entry)))
        raise StudyError(f"in {quoted(on)}, there is no number {quoted(field)}; {instead(field, known, any_of(known))}")
    return spots


def _number_fields(record: msgspec.Struct, before: str = "") -> Iterator[str]:
    for fact in facts_of(type(record)):
        value = getattr(record, fact.name)
        if isinstance(value, float):
            yield before + fact.name
        elif isinstance(value, msgspec.Struct):
            yield from _number_fields(value, f"{before}{fact.name}/")


def _lengths(board: Board, line: str) -> tuple[NumberSpot, ...]:
    spots = tuple(
        NumberSpot(RUN, lane.name, (at,), 1.0, f"{LENGTH}/{element.line}", "m")
        for lane in board.lanes
        for at, element in enumerate(lane.path)
        if isinstance(element, Run) and line in ("", element.line)
    )
    if not spots:
        lines = tuple(dict.fromkeys(p.line for lane in board.lanes for p in lane.path if isinstance(p, Run)))
        raise StudyError(f"no run is made of {quoted(line)}; {instead(line, lines, 'name a line that is used')}")
    return spots


def _skews(board: Board, name: str) -> tuple[NumberSpot, ...]:
    """The skew of the first run or fixture of each lane, or of all those of one line or part."""
    named = [
        (lane, at, element.line if isinstance(element, Run) else element.part)
        for lane in board.lanes
        for at, element in enumerate(lane.path)
        if not isinstance(element, Stage)
    ]
    if not name:  # the pair's own skew: where along it that lies matters little
        first = {lane.name: (lane, at, what) for lane, at, what in reversed(named)}
        named = [first[lane.name] for lane in board.lanes if lane.name in first]
    spots = tuple(
        NumberSpot(LEGS, lane.name, (at,), 1.0, f"{SKEW}/{what}", "s")
        for lane, at, what in named
        if name in ("", what)
    )
    if not spots:
        known = tuple(dict.fromkeys(what for _, _, what in named))
        raise StudyError(f"no lane has a {quoted(name)} whose skew could vary; {instead(name, known, 'name another')}")
    return spots


def _own_part(board: Board, ref: str) -> tuple[Board, str]:
    """The board with a device's part as an entry of its own, and that entry's name."""
    refs = tuple(device.ref for device in board.devices)
    if ref not in refs:
        raise StudyError(f"there is no device {quoted(ref)}; {instead(ref, refs, 'choose one of the board')}")
    device = board.devices[refs.index(ref)]
    name = f"{device.part} of {ref}" if not device.part.endswith(f" of {ref}") else device.part
    part = Index(board).find(("conditioners",), device.part, Conditioner)
    if name != device.part:
        catalogue = replace(board.catalogue, conditioners=(*board.catalogue.conditioners, replace(part, name=name)))
        devices: tuple[Device, ...] = tuple(replace(d, part=name) if d.ref == ref else d for d in board.devices)
        board = replace(board, catalogue=catalogue, devices=devices)
    return board, name
