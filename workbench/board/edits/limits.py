"""Limits of the board's owner, where the interface has none that is known: what an eye at the receiver must keep to."""

from typing import Annotated

import msgspec
from msgspec.structs import replace

from workbench.board.edits.catalogue import put_profile, remove_profile
from workbench.board.library import builtin_profiles, profile_of
from workbench.board.model import Board
from workbench.board.profile import EyeMask, Profile, ReceiverLimits
from workbench.board.sourced import Sourced
from workbench.facts import quantity, text

NO_SOURCE = "requirement of this board"


class OwnLimits(msgspec.Struct, frozen=True, kw_only=True):
    """The least eye that the board's owner asks for at the receiver."""

    height_v: Annotated[
        float | None,
        quantity("V", "Eye height", "Min opening at the receiver, V peak to peak differential.", ge=0.0, le=10.0),
    ] = None
    width_ui: Annotated[
        float | None, quantity("UI", "Eye width", "Min opening along time at the receiver.", ge=0.0, le=1.0)
    ] = None
    mask_height_v: Annotated[
        float | None,
        quantity("V", "Mask height", "Of a mask that the contour at the BER must stay out of.", ge=0.0, le=10.0),
    ] = None
    mask_width_ui: Annotated[
        float | None, quantity("UI", "Mask width", "Between its corners at the threshold.", ge=0.0, le=1.0)
    ] = None
    mask_flat_ui: Annotated[
        float | None,
        quantity("UI", "Mask top", "How wide its top and bottom are; none: a diamond.", ge=0.0, le=1.0),
    ] = None
    source: Annotated[
        str, text("Source", "Who requires it and where that is written; the report names it with each verdict.")
    ] = ""


def own_limits(board: Board, profile_id: str) -> OwnLimits | None:
    """A profile's own limits, empty where nothing limits its eye; None where it has limits of its standard.

    Args:
        board: the board.
        profile_id: a profile that its lanes may name.
    """
    limits = profile_of(board, profile_id).limits
    mask = limits.mask
    of_mask = () if mask is None else (mask.height_v, mask.width_ui, mask.flat_ui)
    stated = [one for one in (limits.height_v, limits.width_ui, *of_mask) if one is not None]
    if any(one.status != "own requirement" for one in stated):
        return None
    source = stated[0].source if stated else ""
    return OwnLimits(
        height_v=_value(limits.height_v),
        width_ui=_value(limits.width_ui),
        mask_height_v=None if mask is None else mask.height_v.value,
        mask_width_ui=None if mask is None else mask.width_ui.value,
        mask_flat_ui=None if mask is None else _value(mask.flat_ui),
        source="" if source == NO_SOURCE else source,
    )


def set_own_limits(board: Board, profile_id: str, wanted: OwnLimits) -> Board:
    """The board with own limits in its own copy of a profile; without any the copy goes where it says nothing else.

    Raises:
        EditError: lanes can't be judged by it.
    """
    profile = profile_of(board, profile_id)
    source = wanted.source.strip() or NO_SOURCE

    def sourced(value: float | None) -> Sourced | None:
        return None if value is None else Sourced(value=value, source=source, status="own requirement")

    mask = None
    if (wanted.mask_height_v, wanted.mask_width_ui, wanted.mask_flat_ui) != (None, None, None):
        # A side that is not typed yet is none: what is typed first counts at once.
        top_ui = wanted.mask_flat_ui
        wide_ui = wanted.mask_width_ui if wanted.mask_width_ui is not None else top_ui or 0.0
        height, width = sourced(wanted.mask_height_v or 0.0), sourced(wide_ui)
        assert height is not None
        assert width is not None
        mask = EyeMask(height_v=height, width_ui=width, flat_ui=sourced(top_ui))
    limits = ReceiverLimits(
        at=profile.limits.at, height_v=sourced(wanted.height_v), width_ui=sourced(wanted.width_ui), mask=mask
    )
    return _with_profile(board, replace(profile, limits=limits, pad_limits=None))


def _value(number: Sourced | None) -> float | None:
    return None if number is None else number.value


def _with_profile(board: Board, profile: Profile) -> Board:
    own = any(one.id == profile.id for one in board.profiles)
    if builtin_profiles().get(profile.id) == profile:
        return remove_profile(board, profile.id) if own else board
    return put_profile(board, profile)
