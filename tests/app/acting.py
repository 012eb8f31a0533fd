"""What a builder does to the window."""


def menu_action(window, text):
    """The action of a menu whose text begins so."""
    actions = [action for menu in window.menuBar().actions() for action in menu.menu().actions()]
    return next(action for action in actions if action.text().startswith(text))


def type_if(window, qtbot, text):
    """Type an IF over the one that stands there; gives the field back."""
    field = window.frequency_bar.intermediate
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    return field
