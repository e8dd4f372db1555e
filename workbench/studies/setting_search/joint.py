"""The best joint choice where every lane depends on a few devices: the largest least margin, exactly.

Each lane's margin is a table over the settings of the devices that it passes through. Their minimum over all lanes is
to be made as large as can be. Devices are eliminated one after another: the tables that a device is in are joined into
one, its best setting for every choice of the others is kept, and the device is gone (bucket elimination: R. Dechter,
"Bucket elimination: a unifying framework for reasoning", Artificial Intelligence 113, 1999, here with maximum and
minimum). Exact, and as large as the largest joined table, not as the product of all settings.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats

LARGEST_TABLE = 4_000_000


class JointMargins(NamedTuple):
    """The least margin of some lanes over the settings of some devices: `margin` has an axis a device."""

    devices: tuple[int, ...]
    margin: Floats

    def worst_where_unknown(self) -> "JointMargins":
        """The table with minus infinity for NaN, so that what is not known is not chosen."""
        return self._replace(margin=np.where(np.isnan(self.margin), -np.inf, self.margin))


def best_choice(sizes: Sequence[int], tables: Sequence[JointMargins]) -> tuple[int, ...] | None:
    """For every device the setting that together make the least margin largest; None where a table grows too large.

    Args:
        sizes: how many settings each device has.
        tables: of all lanes.
    """
    left = list(tables)
    order: list[tuple[int, tuple[int, ...], Floats]] = []
    open_devices = set(range(len(sizes)))
    while open_devices:
        device = min(open_devices, key=lambda d: (_joined_size(sizes, left, d), d))
        if _joined_size(sizes, left, device) > LARGEST_TABLE:
            return None
        joined = joined_table(sizes, [table for table in left if device in table.devices], device)
        left = [table for table in left if device not in table.devices]
        others = joined.devices[1:]
        order.append((device, others, joined.margin.argmax(axis=0)))
        left.append(JointMargins(others, joined.margin.max(axis=0)))
        open_devices.remove(device)
    chosen = [0] * len(sizes)
    for device, others, best in reversed(order):
        chosen[device] = int(best[tuple(chosen[other] for other in others)])
    return tuple(chosen)


def joined_table(sizes: Sequence[int], tables: Sequence[JointMargins], first: int) -> JointMargins:
    """The minimum of tables over all their devices, with device `first` as the first axis."""
    devices = (first, *sorted({device for table in tables for device in table.devices} - {first}))
    margin = np.full(tuple(sizes[device] for device in devices), np.inf)
    for table in tables:
        margin = np.minimum(margin, _spread(table, devices))
    return JointMargins(devices, margin)


def _spread(table: JointMargins, devices: tuple[int, ...]) -> Floats:
    """A table with axes for all `devices`, of length 1 where it does not depend on one."""
    order = sorted(range(len(table.devices)), key=lambda axis: devices.index(table.devices[axis]))
    turned = table.margin.transpose(order)
    lengths = iter(turned.shape)
    return turned.reshape(tuple(next(lengths) if device in table.devices else 1 for device in devices))


def _joined_size(sizes: Sequence[int], tables: Sequence[JointMargins], device: int) -> int:
    met = {device}.union(*(table.devices for table in tables if device in table.devices))
    size = 1
    for one in met:
        size *= sizes[one]
    return size


def least_nearby(margin: Floats) -> Floats:
    """For every point the least value among itself and its neighbours one step along each axis; the same shape."""
    least = margin.copy()
    for axis in range(margin.ndim):
        ahead = [slice(None)] * margin.ndim
        behind = [slice(None)] * margin.ndim
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        np.minimum(least[tuple(ahead)], margin[tuple(behind)], out=least[tuple(ahead)])
        np.minimum(least[tuple(behind)], margin[tuple(ahead)], out=least[tuple(behind)])
    return least
