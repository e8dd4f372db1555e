"""Older board files: one step a version, from decoded JSON to decoded JSON.

The rule that ties files to programs: with every new file version the program's minor version rises to the same number,
so that file version N is read by program 0.N.0 and newer. A refusal can therefore name the program that a newer file
needs, without knowing that program.
"""

from collections.abc import Callable, Mapping
from typing import Any

from workbench import __version__
from workbench.board.model import VERSION
from workbench.errors import BoardFileError

Step = Callable[[dict[str, Any]], dict[str, Any]]



def _from_version_1(raw: dict[str, Any]) -> dict[str, Any]:
    """Version 1 called a component a component and a probe point a look, and reserved two keys that nothing used."""
    raw["catalogue"].pop("couplings", None)
    for lane in raw["lanes"]:
        lane.pop("aggressors", None)
        for element in lane["path"]:
            if element["kind"] == "component":
                element["kind"] = "component"
    for measurement in raw.get("measurements", ()):
        if "probe" in measurement:
            measurement["probe"] = measurement.pop("probe")
    return raw


STEPS: Mapping[int, Step] = {1: _from_version_1}
"""For each older version that is still read: the step to the next version. Version 1 is the first."""


def check_version(version: object, steps: Mapping[int, Step] = STEPS) -> int:
    """The version of a file, where this program reads it.

    Args:
        version: what stands under "version"; None where the key is missing.
        steps: the migration steps, by the version that they start from.

    Raises:
        BoardFileError: it is missing, no whole number, newer than this program, or older than its oldest step.
    """
    place = "$.version"
    if type(version) is not int or version < 0:
        problem = "the file's version is missing or not a whole number"
        raise BoardFileError(place, problem, f'write "version": {VERSION}')
    if version > VERSION:
        raise BoardFileError(
            place,
            f"the file is of version {version}, and this program ({__version__}) reads versions up to {VERSION}",
            f"open it with version 0.{version} of this program or a newer one",
        )
    oldest = _oldest(steps)
    if version < oldest:
        raise BoardFileError(
            place, f"there is no version {version} of board files that this program reads", f"the oldest is {oldest}"
        )
    return version


def migrate(raw: dict[str, Any], version: int, steps: Mapping[int, Step] = STEPS) -> dict[str, Any]:
    """Decoded JSON of an older version as decoded JSON of this one; `raw` itself may be changed.

    Args:
        raw: decoded JSON.
        version: its version, one that `check_version` let pass.
        steps: the migration steps, by the version that they start from.

    Raises:
        BoardFileError: the old file lacks what a step needs.
    """
    for start in range(version, VERSION):
        try:
            raw = steps[start](raw)
        except (LookupError, TypeError, ValueError, AttributeError) as error:
            raise BoardFileError(
                "$", f"the file says version {start} but is not built like one", "open the original, unedited file"
            ) from error
        raw["version"] = start + 1
    return raw


def _oldest(steps: Mapping[int, Step]) -> int:
    oldest = VERSION
    while oldest - 1 in steps:
        oldest -= 1
    return oldest
