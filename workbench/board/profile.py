"""What an interface standard asks of a lane: rate, coding, target error ratio, limits and where they hold."""

from typing import Annotated, ClassVar, Literal

import msgspec

from workbench.facts import choice, text
from workbench.parts.receiver import Ctle, Dfe
from workbench.parts.record import Record

Status = Literal["published", "common practice", "from memory"]


class Sourced(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A number with where it comes from and how far that may be trusted.

    `status` is "published" (read in the named text), "common practice" (a rule of the trade without a source) or
    "from memory" (recalled; to be looked up before it is relied on).
    """

    value: Annotated[float, choice("Value", "The number, in the unit that the field's name ends with.")]
    source: Annotated[str, text("Source", "Document, revision and place.", required=True)]
    status: Annotated[Status, choice("Status", "How far the number may be trusted.")]


class ReceiverLimits(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The least eye a receiver must be given. A limit that is not known is null and is not judged."""

    at: Annotated[
        Literal["pins", "equalized"],
        choice("Holds at", "Where the limits hold: at the pins, or behind the reference equalizer."),
    ]
    height_v: Annotated[Sourced | None, choice("Eye height", "Least opening, V peak to peak differential.")] = None
    width_ui: Annotated[Sourced | None, choice("Eye width", "Least opening along time, UI.")] = None


class ReferenceReceiver(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The equalization that the standard lets a lane count on."""

    equalizer: Annotated[Ctle | None, choice("Equalizer", "The continuous-time equalizer.")] = None
    dfe: Annotated[Dfe, choice("Decision feedback", "The taps and their limits.")] = Dfe()
    source: Annotated[str, text("Source", "Document, revision and place.", required=True)]
    status: Annotated[Status, choice("Status", "How far it may be trusted.")]


class Profile(Record, kw_only=True):
    """An interface at one rate, as one revision of its standard has it."""

    shelf: ClassVar[str | None] = "profiles"

    id: Annotated[str, text("Id", "The word that boards and lanes name the profile by.", required=True)]
    title: Annotated[str, text("Title", "The interface and its rate.", required=True)]
    revision: Annotated[str, text("Revision", "The revision of the standard that the limits are taken from.")]
    notes: Annotated[str, text("Notes", "Choices made where the standard or its source left one.")] = ""
    rate_bps: Annotated[Sourced, choice("Rate", "Bits per second on the line.")]
    levels: Annotated[
        tuple[float, ...], choice("Levels", "The symbol levels: -1, 1 (NRZ) or -1, -1/3, 1/3, 1 (PAM4).")
    ] = (-1.0, 1.0)
    coding: Annotated[str, text("Coding", "The line code.", required=True)]
    ber: Annotated[Sourced, choice("Error ratio", "The bit error ratio that limits are stated at.")]
    impedance_ohm: Annotated[
        Sourced | None, choice("Impedance", "Differential impedance that the interface asks for.")
    ] = None
    swing_min_v: Annotated[
        Sourced | None, choice("Least swing", "Transmitter swing, V peak to peak differential.")
    ] = None
    swing_max_v: Annotated[
        Sourced | None, choice("Largest swing", "Transmitter swing, V peak to peak differential.")
    ] = None
    deemphasis_db: Annotated[
        tuple[Sourced, ...], choice("De-emphasis", "The transmitter's nominal de-emphasis values, dB.")
    ] = ()
    loss_budget_db: Annotated[
        Sourced | None, choice("Loss budget", "Loss at Nyquist that a channel of this interface usually stays below.")
    ] = None
    limits: Annotated[ReceiverLimits, choice("Limits", "What the receiver must be given.")]
    reference: Annotated[
        ReferenceReceiver | None, choice("Reference receiver", "The standard's own equalization.")
    ] = None
    trains_transparently: Annotated[
        bool,
        choice("Trains through", "True where link training adjusts the transmitter through the path, so that a stage "
               "must pass its waveform on."),
    ] = False

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
