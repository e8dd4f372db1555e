"""Moves that only set something: controls of the lane's devices, equalization of its transmitter."""

from collections.abc import Iterator

from workbench.board.edits.taking import PartsLibrary
from workbench.board.index import index_of
from workbench.board.library import profile_of
from workbench.board.model import Board, Lane
from workbench.board.profile import Profile
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.zero_pole import SWING
from workbench.parts.transmitter import Transmitter
from workbench.quantity import show
from workbench.studies.remedies.alterations import Drive
from workbench.studies.remedies.moves import SETTINGS, RemedyMove, power_words
from workbench.studies.setting_search.settings import DeviceChoices, lane_choices

SWING_STEPS = (1.0 / 3.0, 2.0 / 3.0, 1.0)
"""Of the way from the swing that is set to the most that the profile allows."""
_OWN_ENTRY = "a transmitter entry of this lane's own"
_UNKNOWN_POWER = "more power for its swing, which its data does not state"
USUAL_DEEMPHASIS_DB = (0.0, 2.0, 3.5, 6.0, 9.5)
"""Common practice, no source: tried where the profile names neither presets nor de-emphasis."""


def settings_moves(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[RemedyMove]:
    """Every other position of each control of the lane's devices, of its transmitter's equalization and swing."""
    del library
    for choices in lane_choices(board, lane.name):
        yield from control_moves(choices)
    yield from _transmitter_moves(board, lane)
    yield from _swing_moves(board, lane)


def control_moves(choices: DeviceChoices) -> Iterator[RemedyMove]:
    """Every other position of each control of a device, or of a channel's own."""
    ref = choices.words
    shared = "" if len(choices.lanes) == 1 else f"sets all {len(choices.lanes)} lanes of {ref}"
    for control, names in zip(choices.controls, choices.positions, strict=True):
        for at, name in enumerate(names):
            if name == choices.current[control]:
                continue
            now_at = names.index(choices.current[control])
            unknown = control == SWING and at > now_at
            yield RemedyMove(
                kind=SETTINGS,
                words=f"set {control} of {ref} to {name} (from {choices.current[control]})",
                knob=f"{control} of {ref}",
                at=(at,),
                now_at=(now_at,),
                changes=(choices.change(Settings({control: name})),),
                cost="; ".join(filter(None, (shared, _UNKNOWN_POWER * unknown))),
                power_w=None if unknown else 0.0,
            )


def _transmitter_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """Pre-shoot and de-emphasis that the profile names, else usual ones; none where the best preset counts anyway."""
    now = index_of(board).find(("transmitters",), lane.transmitter, Transmitter)
    if now.taps_from != "stated":
        return
    pairs = _equalizations(profile_of(board, lane.profile or board.profile), now)
    shots = sorted({shot for shot, _ in pairs} | {now.preshoot_db})
    weights = sorted({weight for _, weight in pairs} | {now.deemphasis_db})
    for shot, weight in sorted(pairs - {(now.preshoot_db, now.deemphasis_db)}):
        said = f"{shot:g} dB pre-shoot and {weight:g} dB de-emphasis"
        fields = (("preshoot_db", shot), ("deemphasis_db", weight))
        yield RemedyMove(
            kind=SETTINGS,
            words=f"set the transmitter of {lane.name} to {said}"
            f" (from {now.preshoot_db:g} and {now.deemphasis_db:g} dB)",
            knob=f"transmitter of {lane.name}",
            at=(shots.index(shot), weights.index(weight)),
            now_at=(shots.index(now.preshoot_db), weights.index(now.deemphasis_db)),
            changes=(Drive(lane.name, fields, f"{shot:g}/{weight:g} dB"),),
            cost=_OWN_ENTRY,
        )


def _swing_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """More swing, in steps up to the most that the profile allows; none where it names no most."""
    now = index_of(board).find(("transmitters",), lane.transmitter, Transmitter)
    most = profile_of(board, lane.profile or board.profile).swing_max_v
    if most is None:
        return
    for at, share in enumerate(SWING_STEPS, 1):
        swing_v = now.swing_v + share * (most.value - now.swing_v)
        if swing_v > now.swing_v:
            shown = show(swing_v, "V", digits=3)
            power_w = (swing_v - now.swing_v) * now.power_w_per_v or None
            yield RemedyMove(
                kind=SETTINGS,
                words=f"set the swing of the transmitter of {lane.name} to {shown}"
                f" (from {show(now.swing_v, 'V', digits=3)}, at most {show(most.value, 'V', digits=3)})",
                knob=f"swing of {lane.name}",
                at=(at,),
                now_at=(0,),
                changes=(Drive(lane.name, (("swing_v", swing_v),), shown),),
                cost=f"{_OWN_ENTRY}; {_UNKNOWN_POWER if power_w is None else power_words(power_w)}",
                power_w=power_w,
                price=at,
            )


def _equalizations(profile: Profile, now: Transmitter) -> set[tuple[float, float]]:
    """Pairs of pre-shoot and de-emphasis to try, dB."""
    presets = {
        (one.preshoot_db.value, one.deemphasis_db.value) for one in profile.presets if one.deemphasis_db is not None
    }
    if presets:
        return presets
    named = [one.value for one in profile.deemphasis_db]
    return {(now.preshoot_db, one) for one in ([*named, 0.0] if named else USUAL_DEEMPHASIS_DB)}
