"""What stands in the way of a supply: what joins leads, and what holds a voltage."""

from core.record import record


@record
class Joined:
    """Pairs of leads that a direct current passes between: their places from 0 on, and the resistance there
    [ohm]. None: a connector, an open contact, or what conducts only when something is wrong.
    """

    through: tuple[tuple[int, int, float], ...] = ()


@record(kw_only=True)
class Regulating:
    """A linear regulator, whose first two leads are input and output: it holds `volt` [V] to ground at its
    output as long as its input is higher by `drop_out_v` [V], else what is left, and takes `own_a` [A] for
    itself.
    """

    volt: float
    drop_out_v: float
    own_a: float
