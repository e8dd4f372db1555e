"""Every definition that a lane is made of, each once."""

from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.path_element import PathElement
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.record import ComponentRecord, Parts, RunRecord


def distinct(plan: LanePlan) -> tuple[PathElement, ...]:
    """Each definition in a lane's path once, whatever the length of its runs."""
    seen = {(element.record, element.parts): element for span in plan.spans for element in span.elements}
    return tuple(seen.values())


def packages(plan: LanePlan) -> tuple[PathElement, ...]:
    """The networks of its ends' packages."""
    ends = (end for span in plan.spans for end in (span.source, span.load))
    return tuple(end.network for end in ends if end.network is not None)


def records_of(plan: LanePlan) -> tuple[tuple[RunRecord | ComponentRecord | Conditioner, Parts], ...]:
    """Each definition once, with what it refers to: of the path, of the packages, of the conditioners."""
    found: list[tuple[RunRecord | ComponentRecord | Conditioner, Parts]] = [
        (element.record, element.parts) for element in (*distinct(plan), *packages(plan))
    ]
    return tuple(dict.fromkeys([*found, *((stage.part, Parts()) for stage in plan.stages)]))
