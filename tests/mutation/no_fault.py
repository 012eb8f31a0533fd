"""Changes that are no fault: no result that anybody sees can differ, for the reason told beside each."""

#: (module, function or name at the top, what was, what it becomes): why.
NO_FAULT: dict[tuple[str, str, str, str], str] = {}
