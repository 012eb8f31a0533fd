"""What came of one thing tried."""

from typing import NamedTuple


class Outcome(NamedTuple):
    """`what` came of it in a few words, the same words for the same thing; `again` makes it once more."""

    what: str
    again: str
