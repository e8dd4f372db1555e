"""Which settings serve all lanes of a device, or of several devices, best.

Every combination of equalization, swing and emphasis is assessed on every lane that the device serves, and ranked by
the worst lane's margin. Devices that share a lane are searched together: each lane's margin is a table over the
settings of its own devices, and the best joint choice is found from the tables exactly (`joint`). Where a table would
take too many assessments, one device after another is set to its best until nothing improves, and the answer says that
it is not exact.

A control that each channel has for itself is free for each lane: such a channel is searched as a device of one lane,
together with what its device's channels share. The neighbours of a lane stay as they are set.

The best is a peak and may stand beside a cliff. The plateau is what lies within a stated margin of it with the same
verdict; recommended is the setting of the plateau that loses least when any one control goes one step either way.
"""

from collections.abc import Mapping, Sequence

from workbench.errors import StudyError
from workbench.studies.forms import PLATEAU_GUARDS
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort, pool_for
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import made_of
from workbench.studies.setting_search.answer import GroupAnswer, SettingsAnswer
from workbench.studies.setting_search.group import DeviceGroup
from workbench.studies.setting_search.search import Search
from workbench.studies.setting_search.settings import DeviceChoices, named_choices


def settings_study(
    basis: Basis,
    devices: Sequence[str],
    *,
    only: Mapping[str, dict[str, tuple[str, ...]]] | None = None,
    plateau_guards: float = PLATEAU_GUARDS,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> SettingsAnswer:
    """Rank the settings of devices by the worst lane they serve.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        devices: references, "U4:2" for what channel 2 has for itself; devices that share a lane are set together.
        only: by reference and control, the positions to try besides the current ones.
        plateau_guards: how far below the best the plateau reaches, guard bands.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: a device, control or position is not there, a device has no lanes, the limit does not suffice, or
            the study was cancelled before anything was known.
    """
    only = only or {}
    named = dict.fromkeys(devices)
    controls = [one for ref in named for one in named_choices(basis.board, ref, only.get(ref))]
    if not controls:
        raise StudyError("no device is named whose settings are to be found; name one")
    groups = [DeviceGroup(basis.board, members) for members in _groups(controls)]
    needed = sum(group.needed if group.needed <= limit else group.needed_stepwise for group in groups)
    refuse_too_many(basis, groups[0].lanes[0], needed, limit, effort, shown=sum(group.needed for group in groups))
    with pool_for(basis, effort, assessments=needed) as pool:
        searches = [Search(group, pool, effort, plateau_guards) for group in groups]
        answers: list[GroupAnswer] = []

        def whole(*last: GroupAnswer) -> SettingsAnswer:
            made = made_of(basis, [search.outcome for search in searches])
            return SettingsAnswer(made=made, plateau_guards=plateau_guards, groups=(*answers, *last))

        for search in searches:
            answers.append(search.exactly(whole) if search.group.needed <= limit else search.stepwise())
    return whole()


def _groups(controls: Sequence[DeviceChoices]) -> list[list[DeviceChoices]]:
    """Devices that share lanes, directly or through others, together; in the order given."""
    groups: list[list[DeviceChoices]] = []
    for device in controls:
        meets = [group for group in groups if any(set(one.lanes) & set(device.lanes) for one in group)]
        groups = [group for group in groups if group not in meets]
        groups.append([*(one for group in meets for one in group), device])
    return groups
