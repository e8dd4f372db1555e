"""What a board that is being built lacks next, as a sentence that says where to click. No widget."""

from workbench.board.model import Board


def next_step(board: Board) -> str:
    """The next step towards a judged lane; "" once there is one.

    Args:
        board: the board as it stands.
    """
    catalogue = board.catalogue
    if not catalogue.lines and not catalogue.cables:
        if not catalogue.dielectrics:
            return "Next: in Parts, click New… beside Dielectrics and give your laminate its numbers."
        return "Next: in Parts, click New… beside Lines and say what your traces are like."
    if not catalogue.transmitters or not catalogue.receivers:
        return "Next: in Parts, click New… beside Transmitters and Receivers, the ends of every lane."
    if not board.lanes:
        return "Next: click Add above the lanes; it makes a lane of your line between your ends."
    if not catalogue.connectors and not any(len(lane.path) > 1 for lane in board.lanes):
        return "Next: set the run's length on the right; connectors and vias come from Parts, by New… and Enter."
    return ""
