"""The board: one saved design, immutable. An edit makes a new board (see `edits`)."""

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec

from workbench.board.entry_source import EntrySource
from workbench.board.kept_answer import KeptAnswer
from workbench.board.measurement import MeasuredEye, MeasuredResponse, MeasuredStep, MeasuredWaveform
from workbench.board.profile import Profile
from workbench.facts import choice, quantity, reference, text
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.coupling import CouplingRecord
from workbench.parts.receiver import Receiver
from workbench.parts.record import ComponentRecord, Record, RunRecord, union_in
from workbench.parts.transmitter import Transmitter

FORMAT = "link-margin-board"
VERSION = 2

RUN_SECTIONS = ("lines", "cables")
COMPONENT_SECTIONS = ("vias", "connectors", "capacitors", "networks")

if TYPE_CHECKING:
    DielectricEntry = Record
    FoilEntry = Record
    LineEntry = RunRecord
    CableEntry = RunRecord
    ViaEntry = ComponentRecord
    ConnectorEntry = ComponentRecord
    CapacitorEntry = ComponentRecord
    NetworkEntry = ComponentRecord
    ConditionerEntry = Conditioner
    TransmitterEntry = Transmitter
    ReceiverEntry = Receiver
    CouplingEntry = CouplingRecord
    SettingsRead = Settings
else:
    # What may stand in a section is whatever kinds the parts package has: adding one is adding its file.
    DielectricEntry = union_in("dielectrics")
    FoilEntry = union_in("foils")
    LineEntry = union_in("lines")
    CableEntry = union_in("cables")
    ViaEntry = union_in("vias")
    ConnectorEntry = union_in("connectors")
    CapacitorEntry = union_in("capacitors")
    NetworkEntry = union_in("networks")
    ConditionerEntry = union_in("conditioners")
    TransmitterEntry = union_in("transmitters")
    ReceiverEntry = union_in("receivers")
    CouplingEntry = union_in("couplings")
    SettingsRead = dict[str, Annotated[str, msgspec.Meta(min_length=1)]]


class Plain(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of the document's own records."""


class Catalogue(Plain, frozen=True, kw_only=True):
    """Named definitions, a section a kind; lanes and devices refer to them by name."""

    dielectrics: Annotated[tuple[DielectricEntry, ...], choice("Dielectrics", "Laminates.")] = ()
    foils: Annotated[tuple[FoilEntry, ...], choice("Foils", "Copper and its roughness.")] = ()
    lines: Annotated[tuple[LineEntry, ...], choice("Lines", "Traces.")] = ()
    cables: Annotated[tuple[CableEntry, ...], choice("Cables", "Cables by the metre.")] = ()
    vias: Annotated[tuple[ViaEntry, ...], choice("Vias", "Plated through vias.")] = ()
    connectors: Annotated[tuple[ConnectorEntry, ...], choice("Connectors", "Mated connectors.")] = ()
    capacitors: Annotated[tuple[CapacitorEntry, ...], choice("Capacitors", "Coupling capacitors.")] = ()
    networks: Annotated[tuple[NetworkEntry, ...], choice("Networks", "Measured data.")] = ()
    conditioners: Annotated[tuple[ConditionerEntry, ...], choice("Conditioners", "Signal conditioner parts.")] = ()
    transmitters: Annotated[tuple[TransmitterEntry, ...], choice("Transmitters", "Driving ends.")] = ()
    receivers: Annotated[tuple[ReceiverEntry, ...], choice("Receivers", "Receiving ends.")] = ()
    couplings: Annotated[tuple[CouplingEntry, ...], choice("Couplings", "What lies between neighbouring pairs.")] = ()


class ChannelSettings(Plain, frozen=True, kw_only=True):
    """What one channel of a device is set to, of the controls that each channel has for itself."""

    channel: Annotated[int, quantity("", "Channel", "Channel of the device, from 1.", ge=1, le=64)]
    settings: Annotated[
        SettingsRead, choice("Settings", "The position of each control that differs from the device's own.")
    ]

    def __post_init__(self) -> None:
        """What was read becomes settings that never change."""
        if type(self.settings) is not Settings:
            msgspec.structs.force_setattr(self, "settings", Settings(self.settings))


class Device(Plain, frozen=True, kw_only=True):
    """One fitted conditioner."""

    ref: Annotated[str, text("Reference", "Reference designator on the board.", required=True)]
    part: Annotated[str, reference("conditioners", "Part", "The conditioner that is fitted.")]
    settings: Annotated[
        SettingsRead, choice("Settings", "The position of each control of its part, on every channel not named below.")
    ]
    channels: Annotated[
        tuple[ChannelSettings, ...],
        choice("Channels", "The channels that are set otherwise, where the part lets each have a control for itself."),
    ] = ()

    def __post_init__(self) -> None:
        """What was read becomes settings that never change."""
        if type(self.settings) is not Settings:
            msgspec.structs.force_setattr(self, "settings", Settings(self.settings))

    def on_channel(self, channel: int) -> Settings:
        """The position of every control as it is on a channel, from 1."""
        own = next((one.settings for one in self.channels if one.channel == channel), None)
        return self.settings if own is None else self.settings | own

    def set_to(
        self, chosen: Mapping[str, str], *, per_channel: Collection[str], channel: int | None = None
    ) -> "Device":
        """The device with some controls set: on one channel those that each channel has for itself, else on all.

        Args:
            chosen: the position by control; the others stay.
            per_channel: the controls that each channel of its part has for itself.
            channel: the channel, from 1; None: all of them.
        """
        one = {name: at for name, at in chosen.items() if channel is not None and name in per_channel}
        settings = self.settings | {name: at for name, at in chosen.items() if name not in one}
        own = {each.channel: dict(each.settings) for each in self.channels}
        if channel is not None:
            own[channel] = own.get(channel, {}) | one
        alike = {name for name in chosen if name not in one}
        channels = tuple(
            ChannelSettings(channel=number, settings=left)
            for number, positions in sorted(own.items())
            if (left := Settings({name: at for name, at in positions.items()
                                  if name not in alike and settings.get(name) != at}))
        )  # fmt: skip
        return msgspec.structs.replace(self, settings=settings, channels=channels)


def device_words(ref: str, channel: int | None) -> str:
    """A device, or a channel of it, as words: "U4", "U4 channel 2"."""
    return ref if channel is None else f"{ref} channel {channel}"


PairSkew = Annotated[
    float,
    quantity("s", "Pair skew", "How much later the positive leg's signal leaves it than the negative one's, if both "
             "came in at once.", ge=-1e-9, le=1e-9),
]  # fmt: skip


class Run(Plain, frozen=True, kw_only=True, tag="run", tag_field="kind"):
    """A stretch of line or cable."""

    line: Annotated[str, reference("lines cables", "Line", "What the run is made of.")]
    length_m: Annotated[float, quantity("m", "Length", "Routed length.", gt=0.0, le=100.0)]
    bundle: Annotated[str | None, choice("Bundle", "The bundle that it lies in beside other lanes' runs.")] = None
    skew_s: PairSkew = 0.0
    mismatch_m: Annotated[
        float, quantity("m", "Leg mismatch", "How much longer its positive leg is than its negative one.",
                        ge=-0.1, le=0.1)
    ] = 0.0  # fmt: skip

    def cut(self, before_m: float) -> "tuple[Run, Run]":
        """The run as two, the first `before_m` (m) long; what its legs differ by is shared out by length."""
        share = before_m / self.length_m
        first = msgspec.structs.replace(
            self, length_m=before_m, skew_s=self.skew_s * share, mismatch_m=self.mismatch_m * share
        )
        return first, msgspec.structs.replace(
            self, length_m=self.length_m - before_m, skew_s=self.skew_s - first.skew_s,
            mismatch_m=self.mismatch_m - first.mismatch_m,
        )  # fmt: skip

    def joined(self, other: "Run") -> "Run | None":
        """The run and what follows it as one; None where that is not more of the same line."""
        whole = msgspec.structs.replace(
            self, length_m=self.length_m + other.length_m, skew_s=self.skew_s + other.skew_s,
            mismatch_m=self.mismatch_m + other.mismatch_m,
        )  # fmt: skip
        return whole if (self.line, self.bundle) == (other.line, other.bundle) else None


class Component(Plain, frozen=True, kw_only=True, tag="component", tag_field="kind"):
    """A via, connector, capacitor or network in the path."""

    part: Annotated[str, reference("vias connectors capacitors networks", "Part", "What is fitted here.")]
    way: Annotated[
        int, quantity("", "Way", "Which of a network's through paths the lane takes, from 1.", ge=1, le=32)
    ] = 1
    bundle: Annotated[
        str | None, choice("Bundle", "The bundle whose other lanes pass through the same part.")
    ] = None
    skew_s: PairSkew = 0.0


class Stage(Plain, frozen=True, kw_only=True, tag="stage", tag_field="kind"):
    """One channel of a conditioner device."""

    device: Annotated[str, text("Device", "Reference designator of the device.", required=True)]
    channel: Annotated[int, quantity("", "Channel", "Channel of the device, from 1.", ge=1, le=64)]


Element = Run | Component | Stage


def bundle_of(element: Element) -> str | None:
    """The bundle that an element lies in beside other lanes' elements."""
    return None if isinstance(element, Stage) else element.bundle


class Lane(Plain, frozen=True, kw_only=True):
    """One differential pair from a transmitter to a receiver."""

    name: Annotated[str, text("Name", "What the lane is called.", required=True)]
    profile: Annotated[str | None, choice("Profile", "The interface, where it differs from the board's.")] = None
    transmitter: Annotated[str, reference("transmitters", "Transmitter", "The driving end.")]
    receiver: Annotated[str, reference("receivers", "Receiver", "The receiving end.")]
    path: Annotated[tuple[Element, ...], choice("Path", "The elements in the signal's order.")]

    @property
    def length_m(self) -> float:
        """Routed length in m: the sum of the runs."""
        return sum(element.length_m for element in self.path if isinstance(element, Run))


class Bundle(Plain, frozen=True, kw_only=True):
    """Runs of several lanes that lie beside one another, and parts that they pass together.

    Each run, connector and network says which bundle it is in. Runs couple by the bundle's coupling, cables without one
    and connectors by the levels that they state, networks by their own data.
    """

    name: Annotated[str, text("Name", "What the bundle is called.", required=True)]
    coupling: (
        Annotated[str, reference("couplings", "Coupling", "What lies between neighbouring runs; none: as parts say.")]
        | None
    ) = None
    order: Annotated[
        tuple[str, ...], choice("Order", "The lanes in their order across the board; empty: in the board's order.")
    ] = ()
    against: Annotated[
        tuple[str, ...], choice("Against", "The lanes whose signal runs the other way.")
    ] = ()
    alignment: Annotated[
        Literal["worst", "asynchronous"],
        choice("Alignment", "Same clock at the worst phase, or another clock: every phase alike."),
    ] = "worst"
    reach: Annotated[int, quantity("", "Reach", "How many neighbours to each side count.", ge=1, le=2)] = 1


class Guard(Plain, frozen=True, kw_only=True):
    """How much margin a lane must keep to be called a pass rather than marginal."""

    height_v: Annotated[
        float, quantity("V", "Height guard", "Height margin below which a pass is marginal.", ge=0.0, le=10.0)
    ] = 0.010
    width_ui: Annotated[
        float, quantity("UI", "Width guard", "Width margin below which a pass is marginal.", ge=0.0, le=1.0)
    ] = 0.03


class Board(Plain, frozen=True, kw_only=True):
    """One design: catalogue, devices, lanes."""

    format: Literal["link-margin-board"] = "link-margin-board"
    version: int = VERSION
    title: Annotated[str, text("Title", "What the design is called.")] = ""
    notes: Annotated[str, text("Notes", "Anything a colleague should know.")] = ""
    prepared_by: Annotated[str, text("Prepared by", "Who is responsible for this design; named on its report.")] = ""
    prepared_for: Annotated[str, text("Prepared for", "Whom the report is for.")] = ""
    revision: Annotated[str, text("Revision", "The design's revision, as its report is to name it.")] = ""
    profile: Annotated[str, text("Profile", "The interface of every lane that names none itself.", required=True)]
    guard: Annotated[Guard, choice("Guard bands", "Margin that separates pass from marginal.")] = Guard()
    catalogue: Annotated[
        Catalogue, choice("Catalogue", "The definitions that lanes and devices refer to.")
    ] = Catalogue()
    profiles: Annotated[
        tuple[Profile, ...], choice("Own profiles", "Profiles of this board; one with a built-in id replaces it here.")
    ] = ()
    devices: Annotated[tuple[Device, ...], choice("Devices", "The conditioners fitted.")] = ()
    bundles: Annotated[tuple[Bundle, ...], choice("Bundles", "Lanes that lie beside one another.")] = ()
    lanes: Annotated[tuple[Lane, ...], choice("Lanes", "The lanes.")] = ()
    measurements: Annotated[
        tuple[MeasuredResponse | MeasuredStep | MeasuredWaveform | MeasuredEye, ...],
        choice("Measurements", "What was measured on the lanes, to be compared with what is computed."),
    ] = ()
    answers: Annotated[
        tuple[KeptAnswer, ...], choice("Answers", "Answers of studies that are kept with the board and reported.")
    ] = ()
    sources: Annotated[
        tuple[EntrySource, ...],
        choice("Sources", "Where the values of entries come from that were taken from a library of parts."),
    ] = ()


def in_bundle(board: Board, bundle: Bundle) -> list[Lane]:
    """The lanes with elements in a bundle, in their order across the board."""
    inside = [lane for lane in board.lanes if any(bundle_of(one) == bundle.name for one in lane.path)]
    if bundle.order:
        rank = {lane: number for number, lane in enumerate(bundle.order)}
        inside.sort(key=lambda lane: rank.get(lane.name, len(rank)))
    return inside
