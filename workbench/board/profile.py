"""What an interface standard asks of a lane: rate, coding, target error ratio, limits and where they hold."""

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal

import msgspec

from workbench.board.channel_limit import ChannelLimit
from workbench.board.sourced import Sourced, Status
from workbench.facts import choice, facts_of, quantity, text
from workbench.parts.package import Package
from workbench.parts.receiver import Ctle, Dfe, PolesAndZeros
from workbench.parts.record import Problem, Record

__all__ = [
    "ChannelLimit", "EyeMask", "Package", "Preset", "Profile", "ReceiverLimits", "ReferencePackage",
    "ReferenceReceiver", "ReferenceTransmitter", "Sourced", "Status", "numbers_of",
]  # fmt: skip

_RANGES = {"rate_bps": (1e6, 1e12), "ber": (1e-18, 0.1)}
_PACKAGE_RANGES = {
    "pin_capacitance_f": (0.0, 1e-11), "pad_capacitance_f": (0.0, 1e-11), "impedance_ohm": (10.0, 1000.0),
    "loss_db": (0.0, 40.0), "delay_s": (1e-12, 1e-8),
}  # fmt: skip
_MOST_PRESET_DB = 12.0
_MOST_MASK_V = 10.0
Place = Literal["pins", "pad", "equalized"]


class EyeMask(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A shape about the sampling instant that the eye's contour must stay out of: a hexagon, alike to all sides."""

    height_v: Annotated[Sourced, choice("Mask height", "From its bottom to its top, V differential.")]
    width_ui: Annotated[Sourced, choice("Mask width", "Between its corners at the threshold, UI.")]
    flat_ui: Annotated[
        Sourced | None, choice("Mask top", "How wide its top and bottom are, UI; none: they are points, a diamond.")
    ] = None

    @property
    def corners(self) -> tuple[float, float, float]:
        """Half of its height, V, of its width and of its top's width, UI."""
        flat_ui = 0.0 if self.flat_ui is None else self.flat_ui.value
        return self.height_v.value / 2.0, self.width_ui.value / 2.0, flat_ui / 2.0


class ReceiverLimits(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The least eye a receiver must be given. A limit that is not known is null and is not judged."""

    at: Annotated[
        Place,
        choice(
            "Holds at",
            "Where the limits hold: at the pins, at the die pad after the reference package, or after the reference "
            "equalizer.",
        ),
    ]
    height_v: Annotated[Sourced | None, choice("Eye height", "Min opening, V peak to peak differential.")] = None
    width_ui: Annotated[Sourced | None, choice("Eye width", "Min opening along time, UI.")] = None
    mask: Annotated[
        EyeMask | None, choice("Eye mask", "What the contour at the BER must stay out of, about the sampling instant.")
    ] = None


class ReferencePackage(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The receiver's package that the standard lets a lane count on: between the pins and the die pad."""

    pin_capacitance_f: Annotated[Sourced, choice("Pin capacitance", "Across the pair at the pins, F.")]
    pad_capacitance_f: Annotated[Sourced, choice("Pad capacitance", "Across the pair at the die pad, F.")]
    impedance_ohm: Annotated[Sourced, choice("Package impedance", "Of the line between the two, ohm differential.")]
    loss_db: Annotated[Sourced, choice("Package loss", "Of the whole where it is stated, dB.")]
    frequency_hz: Annotated[float, quantity("Hz", "Stated at", "Where the loss is stated.", ge=1e6, le=1e12)]
    delay_s: Annotated[Sourced, choice("Package delay", "Of that line, s.")]


class ReferenceReceiver(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The equalization that the standard lets a lane count on."""

    equalizer: Annotated[Ctle | PolesAndZeros | None, choice("Equalizer", "The continuous-time equalizer.")] = None
    dfe: Annotated[Dfe, choice("Decision feedback", "The taps and their limits.")] = Dfe()
    source: Annotated[str, text("Source", "Document, revision and place.", required=True)]
    status: Annotated[Status, choice("Status", "How far it may be trusted.")]


class Preset(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One of the transmitter's equalizations that the standard names."""

    name: Annotated[str, text("Name", "What the standard calls it.", required=True)]
    preshoot_db: Annotated[Sourced, choice("Pre-shoot", "How far the last bit before a transition stands out, dB.")]
    deemphasis_db: Annotated[
        Sourced | None, choice("De-emphasis", "Of the settled level, dB; null where each part has a limit of its own.")
    ] = None


class ReferenceTransmitter(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the transmitter brings along where the standard has channels simulated, or allows it."""

    swing_v: Annotated[Sourced | None, choice("Simulated swing", "At the die pad, V peak to peak differential.")] = None
    edge_s: Annotated[Sourced | None, choice("Simulated edge", "10 to 90 %, s.")] = None
    random_jitter_s: Annotated[Sourced | None, choice("Random jitter", "Uncorrelated, s rms.")] = None
    deterministic_jitter_s: Annotated[
        Sourced | None, choice("Deterministic jitter", "Uncorrelated, dual-Dirac, s peak to peak.")
    ] = None
    pulse_random_s: Annotated[Sourced | None, choice("Pulse-width random jitter", "s rms.")] = None
    pulse_deterministic_s: Annotated[
        Sourced | None, choice("Pulse-width deterministic jitter", "s peak to peak.")
    ] = None


class Profile(Record, kw_only=True):
    """An interface at one rate, as one revision of its standard has it."""

    section: ClassVar[str | None] = "profiles"

    id: Annotated[str, text("Id", "The word that boards and lanes name the profile by.", required=True)]
    title: Annotated[str, text("Title", "The interface and its rate.", required=True)]
    revision: Annotated[str, text("Revision", "The revision of the standard that the limits are taken from.")]
    notes: Annotated[str, text("Notes", "Choices made where the standard or its source left one.")] = ""
    rate_bps: Annotated[Sourced, choice("Rate", "Bits per second on the line.")]
    levels: Annotated[
        tuple[float, ...], choice("Levels", "The symbol levels: -1, 1 (NRZ) or -1, -1/3, 1/3, 1 (PAM4).")
    ] = (-1.0, 1.0)
    coding: Annotated[str, text("Coding", "The line code.", required=True)]
    ber: Annotated[Sourced, choice("BER", "The bit error ratio that limits are stated at.")]
    impedance_ohm: Annotated[
        Sourced | None, choice("Impedance", "Differential impedance that the interface asks for.")
    ] = None
    swing_min_v: Annotated[
        Sourced | None, choice("Min swing", "Transmitter swing, V peak to peak differential.")
    ] = None
    swing_max_v: Annotated[
        Sourced | None, choice("Max swing", "Transmitter swing, V peak to peak differential.")
    ] = None
    deemphasis_db: Annotated[
        tuple[Sourced, ...], choice("De-emphasis", "The transmitter's nominal de-emphasis values, dB.")
    ] = ()
    loss_budget_db: Annotated[
        Sourced | None, choice("Loss budget", "Loss at Nyquist that a channel of this interface usually stays below.")
    ] = None
    limits: Annotated[ReceiverLimits, choice("Limits", "What the receiver must be given.")]
    pad_limits: Annotated[
        ReceiverLimits | None,
        choice("Limits at the pad", "What must arrive after the reference package, where that is another eye."),
    ] = None
    reference: Annotated[
        ReferenceReceiver | None, choice("Reference receiver", "The standard's own equalization.")
    ] = None
    package: Annotated[
        ReferencePackage | None, choice("Package", "What the standard puts between the receiver's pins and its pad.")
    ] = None
    trains_transparently: Annotated[
        bool,
        choice("Trains through", "True where link training adjusts the transmitter through the path, so that a "
               "conditioner must pass its waveform on."),
    ] = False
    presets: Annotated[
        tuple[Preset, ...], choice("Presets", "The transmitter equalizations that the standard names.")
    ] = ()
    transmitter: Annotated[
        ReferenceTransmitter | None, choice("Transmitter", "Its jitter and edges, as the standard states them.")
    ] = None
    channel: Annotated[
        tuple[ChannelLimit, ...], choice("Channel limits", "What the passive channel must keep to over frequency.")
    ] = ()

    def problems(self) -> tuple[Problem, ...]:
        """What a rate, a BER, levels, a package or a preset can't be."""
        found = [
            Problem(name, f"it can't be {getattr(self, name).value:g}", f"give a number from {low:g} to {high:g}")
            for name, (low, high) in _RANGES.items()
            if not low <= getattr(self, name).value <= high
        ]
        for limits in filter(None, (self.limits, self.pad_limits)):
            found += _mask_problems(limits.mask)
        if len(self.levels) not in {2, 4} or list(self.levels) != sorted(set(self.levels)):
            found.append(Problem("levels", "they are not rising levels of NRZ or PAM4", "give two or four of them"))
        for name, (low, high) in _PACKAGE_RANGES.items() if self.package is not None else ():
            value = getattr(self.package, name).value
            if not low <= value <= high:
                problem = f"a package's {name} can't be {value:g}"
                found.append(Problem("package", problem, f"give a number from {low:g} to {high:g}"))
        for preset in self.presets:
            for one in (preset.preshoot_db, preset.deemphasis_db):
                if one is not None and not 0.0 <= one.value <= _MOST_PRESET_DB:
                    problem = f"{preset.name} has {one.value:g} dB"
                    found.append(Problem("presets", problem, f"give 0 to {_MOST_PRESET_DB:g} dB"))
        return tuple(found)

    @property
    def bits_per_symbol(self) -> int:
        """Bits that one symbol carries: 1 for two levels, 2 for four."""
        return max(len(self.levels).bit_length() - 1, 1)

    @property
    def ui_s(self) -> float:
        """One symbol in s: bits per symbol over bits per second."""
        return self.bits_per_symbol / self.rate_bps.value

    @property
    def nyquist_hz(self) -> float:
        """Half the symbol rate in Hz."""
        return self.rate_bps.value / self.bits_per_symbol / 2.0

    def package_model(self) -> Package | None:
        """The reference package ready for a lane; None where the standard has none."""
        if self.package is None:
            return None
        stated = self.package
        return Package(
            pin_capacitance_f=stated.pin_capacitance_f.value,
            pad_capacitance_f=stated.pad_capacitance_f.value,
            impedance_ohm=stated.impedance_ohm.value,
            loss_db=stated.loss_db.value,
            frequency_hz=stated.frequency_hz,
            delay_s=stated.delay_s.value,
        )

    def limits_at_receiver(self, *, package: bool) -> ReceiverLimits:
        """The limits that a receiver is judged by, with the reference `package` before it or without."""
        return self.pad_limits if package and self.pad_limits is not None else self.limits


def _mask_problems(mask: EyeMask | None) -> list[Problem]:
    if mask is None:
        return []
    half_v, half_ui, half_flat_ui = mask.corners
    if 0.0 <= half_v <= _MOST_MASK_V / 2.0 and 0.0 <= half_flat_ui <= half_ui <= 0.5:
        return []
    problem = f"its mask of {2.0 * half_v:g} V, {2.0 * half_ui:g} UI and {2.0 * half_flat_ui:g} UI at its top can't be"
    return [Problem("limits", problem, f"give up to {_MOST_MASK_V:g} V, up to 1 UI, and a top no wider than the mask")]


_UNITS = {"_bps": "bit/s", "_ohm": "ohm", "_v": "V", "_db": "dB", "_ui": "UI", "_s": "s", "_f": "F", "_hz": "Hz"}
"""A sourced number's unit stands at the end of its field's name."""


def numbers_of(profile: Profile) -> Iterator[tuple[str, str, Sourced]]:
    """Every number of a profile that has a source: its label, its unit, itself; records inside named first."""
    yield from _numbers(profile, "")


def _numbers(record: msgspec.Struct, before: str) -> Iterator[tuple[str, str, Sourced]]:
    for fact in facts_of(type(record)):
        value = getattr(record, fact.name)
        unit = next((unit for ending, unit in _UNITS.items() if fact.name.endswith(ending)), "")
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, Sourced):
                yield f"{before}{fact.label.lower()}", unit, one
            elif isinstance(one, Preset):
                yield from _numbers(one, f"{one.name} ")
            elif isinstance(one, ChannelLimit):
                yield from one.numbers()
            elif isinstance(one, msgspec.Struct):
                place = "pad: " if fact.name == "pad_limits" else ""
                yield from _numbers(one, before + place)
