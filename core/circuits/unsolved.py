"""No result, and why."""

from core.record import record


@record
class Unsolved:
    """No result, because: `reason` is one sentence for the builder's eyes, `field` which of those asked is at
    fault, where one is.

    Returned, not raised: a cached function keeps a returned answer and would repeat a raised one.
    """

    reason: str
    field: str = ""
