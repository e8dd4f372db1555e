"""The editor is reached from the window's menu, and shows the selected element's line."""



def test_the_menu_opens_it_at_the_selected_run(shared, still):
    window = shared
    board = window.document.board
    lines = {line.name for line in board.catalogue.lines if type(line).__name__ in {"StriplinePair", "MicrostripPair"}}
    lane, at = next(
        (lane, at) for lane in board.lanes for at, element in enumerate(lane.path)
        if getattr(element, "line", "") in lines
    )  # fmt: skip
    window.state.set_lane(lane.name)
    window.state.select_element(at)
    action = next(action for action in window.menus.all() if action.objectName() == "path.section")
    action.trigger()
    editor = window.own_windows.section_editor
    assert editor.isVisible()
    assert editor.line.currentText() == lane.path[at].line
    window.appearance.choose("dark")
    editor.close()
    assert not editor.isVisible()
