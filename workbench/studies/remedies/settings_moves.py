"""Moves that only set something: controls of the lane's devices, equalization of its transmitter."""

from collections.abc import Iterator

from msgspec.structs import replace

from workbench.board.index import index_of
from workbench.board.library import profile_of
from workbench.board.model import Board, Lane
from workbench.board.profile import Profile
from workbench.parts.transmitter import Transmitter
from workbench.studies.remedies.alterations import Drive, Turned
from workbench.studies.remedies.moves import SETTINGS, RemedyMove
from workbench.studies.setting_search.settings import device_choices, devices_of
from workbench.wording import quoted

USUAL_DEEMPHASIS_DB = (0.0, 2.0, 3.5, 6.0, 9.5)
"""Common practice, no source: tried where the profile names neither presets nor de-emphasis."""


def settings_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """Every other position of each control of the lane's devices, and of its transmitter's equalization."""
    for ref in devices_of(board, lane.name):
        yield from control_moves(board, ref)
    yield from _transmitter_moves(board, lane)


def control_moves(board: Board, ref: str) -> Iterator[RemedyMove]:
    """Every other position of each control of a device that lanes pass through."""
    choices = device_choices(board, ref)
    shared = "" if len(choices.lanes) == 1 else f"sets all {len(choices.lanes)} lanes of {ref}"
    for control, names in zip(choices.controls, choices.positions, strict=True):
        for at, name in enumerate(names):
            if name == choices.current[control]:
                continue
            yield RemedyMove(
                kind=SETTINGS,
                words=f"set {control} of {ref} to {name} (from {choices.current[control]})",
                knob=f"{control} of {ref}",
                at=(at,),
                now_at=(names.index(choices.current[control]),),
                changes=(Turned(ref, control, name),),
                cost=shared,
            )


def _transmitter_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """Pre-shoot and de-emphasis that the profile names, else usual ones; none where the best preset counts anyway."""
    now = index_of(board).find(("transmitters",), lane.transmitter, Transmitter)
    if now.taps_from != "stated":
        return
    pairs = _equalizations(profile_of(board, lane.profile or board.profile), now)
    shots = sorted({shot for shot, _ in pairs} | {now.preshoot_db})
    weights = sorted({weight for _, weight in pairs} | {now.deemphasis_db})
    names = {one.name for one in board.catalogue.transmitters}
    for shot, weight in sorted(pairs - {(now.preshoot_db, now.deemphasis_db)}):
        said = f"{shot:g} dB pre-shoot and {weight:g} dB de-emphasis"
        own = f"{now.name}, {shot:g}/{weight:g} dB"
        if own in names:
            own = f"{own}, {lane.name}"
        entry = replace(now, name=own, preshoot_db=shot, deemphasis_db=weight)
        yield RemedyMove(
            kind=SETTINGS,
            words=f"set the transmitter of {lane.name} to {said}"
            f" (from {now.preshoot_db:g} and {now.deemphasis_db:g} dB)",
            knob=f"transmitter of {lane.name}",
            at=(shots.index(shot), weights.index(weight)),
            now_at=(shots.index(now.preshoot_db), weights.index(now.deemphasis_db)),
            changes=(Drive(lane.name, entry),),
            cost=f"an entry {quoted(own)} for this lane",
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
