"""A small sound board to begin with: one lane of an interface, on the entries of starter catalogues."""

from collections.abc import Sequence

import msgspec

from workbench.board.library import Starter
from workbench.board.model import Board, Catalogue, Component, Element, Lane, Run
from workbench.board.profile import Profile
from workbench.errors import EditError
from workbench.parts.receiver import NoEqualizer, Receiver, ReferenceEqualizer
from workbench.parts.record import Record
from workbench.parts.transmitter import Transmitter

TRANSMITTER, RECEIVER = "driver", "receiver"
TRACE_M, CABLE_M = 0.1, 0.5

# Common practice, no source: the shares of a unit interval that ordinary ends take.
RISE_UI = 0.2
DRIVER_RANDOM_UI, DRIVER_DETERMINISTIC_UI = 0.0075, 0.075
RECEIVER_RANDOM_UI, RECEIVER_DETERMINISTIC_UI = 0.005, 0.025
PIN_CAPACITANCE_F, RECEIVER_NOISE_V, USUAL_SWING_V = 2e-13, 1.5e-3, 1.0


def starting_board(profile: Profile, starters: Sequence[Starter], *, title: str) -> Board:
    """One lane with a run on both sides of a connector, its ends made from the profile.

    Without a line or cable among the starters the board has its two ends and no lane yet.

    Args:
        profile: the interface.
        starters: their entries make the catalogue.
        title: the board's title.

    Raises:
        EditError: two starters define a name differently.
    """
    catalogue = merged([starter.catalogue for starter in starters])
    routable = bool(catalogue.lines or catalogue.cables)
    notes = " ".join(dict.fromkeys(starter.marked for starter in starters))
    return Board(
        title=title,
        notes=f"{notes} The ends are usual ones for {profile.id}: put the data sheets' numbers in their place.",
        profile=profile.id,
        catalogue=msgspec.structs.replace(
            catalogue,
            transmitters=(driver_for(profile), *catalogue.transmitters),
            receivers=(receiver_for(profile), *catalogue.receivers),
        ),
        lanes=(Lane(name="L0", transmitter=TRANSMITTER, receiver=RECEIVER, path=_path(catalogue)),) if routable else (),
    )


def merged(catalogues: Sequence[Catalogue]) -> Catalogue:
    """One catalogue of all; entries that are the same in several stand once.

    Raises:
        EditError: a name is defined differently by two of them.
    """
    sections: dict[str, tuple[Record, ...]] = {}
    for section in Catalogue.__struct_fields__:
        entries: dict[str, Record] = {}
        for entry in (entry for catalogue in catalogues for entry in getattr(catalogue, section)):
            if entries.setdefault(entry.name, entry) != entry:
                where = f"{entry.name!r} in the section {section}"
                raise EditError(f"two starters define {where} differently; choose one of them")
        sections[section] = tuple(entries.values())
    return msgspec.structs.replace(Catalogue(), **sections)


def driver_for(profile: Profile) -> Transmitter:
    """An ordinary transmitter of an interface: the middle of its swing range, its least de-emphasis that is any."""
    random_s, deterministic_s = _jitter(profile)
    trained = profile.trains_transparently and bool(profile.presets)
    known = [swing.value for swing in (profile.swing_min_v, profile.swing_max_v) if swing is not None]
    emphasis = [number.value for number in profile.deemphasis_db if number.value > 0.0]
    return Transmitter(
        name=TRANSMITTER,
        swing_v=_rounded(sum(known) / len(known)) if known else USUAL_SWING_V,
        rise_time_s=_rounded(RISE_UI * profile.ui_s),
        deemphasis_db=min(emphasis, default=0.0),
        taps_from="best-preset" if trained else "stated",
        capacitance_f=PIN_CAPACITANCE_F,
        random_jitter_s=_rounded(random_s),
        deterministic_jitter_s=_rounded(deterministic_s),
    )


def _jitter(profile: Profile) -> tuple[float, float]:
    """The driver's random and deterministic jitter, s: the profile's where it has both, else usual ones."""
    stated = profile.transmitter
    if stated is None or stated.random_jitter_s is None or stated.deterministic_jitter_s is None:
        return DRIVER_RANDOM_UI * profile.ui_s, DRIVER_DETERMINISTIC_UI * profile.ui_s
    return stated.random_jitter_s.value, stated.deterministic_jitter_s.value


def receiver_for(profile: Profile) -> Receiver:
    """An ordinary receiver of an interface, with the reference equalization where the profile has one."""
    return Receiver(
        name=RECEIVER,
        capacitance_f=PIN_CAPACITANCE_F,
        noise_v=RECEIVER_NOISE_V,
        random_jitter_s=_rounded(RECEIVER_RANDOM_UI * profile.ui_s),
        deterministic_jitter_s=_rounded(RECEIVER_DETERMINISTIC_UI * profile.ui_s),
        equalizer=ReferenceEqualizer() if profile.reference is not None else NoEqualizer(),
        package="reference" if profile.package is not None and profile.limits.at == "equalized" else "none",
        settings_by="area" if profile.presets else "height",
    )


def _path(catalogue: Catalogue) -> tuple[Element, ...]:
    joint = tuple(Component(part=entry.name) for entry in catalogue.connectors[:1])
    if catalogue.lines:
        run = Run(line=catalogue.lines[0].name, length_m=TRACE_M)
        return (run, *joint, run)
    return (*joint, Run(line=catalogue.cables[0].name, length_m=CABLE_M), *joint)


def _rounded(value: float) -> float:
    """Three digits: what a person would have typed."""
    return float(f"{value:.3g}")
