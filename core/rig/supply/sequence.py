"""What is on when between receive and transmit, and what the receiver's input gets of that."""

from functools import lru_cache

from core.circuits.supply.wiring import open_contact_db
from core.model.supply.supply import Relay
from core.record import record
from core.rig.supply.consumers import Feeding

#: How long the key stays down in the diagram beyond what key down takes, s.
_HELD_S = 30e-3
#: What is drawn ahead of key down and behind all, s.
_MARGIN_S = 10e-3
#: A relay has so much more time than its own before power comes, s; common practice, no source.
ROOM_S = 5e-3


@record(kw_only=True)
class Lane:
    """Something that is on between some times [s], counted from key down."""

    name: str
    on: tuple[tuple[float, float], ...]


@record(kw_only=True)
class Event:
    """What happens at a time [s] after key down or key up."""

    key: str
    after_s: float
    what: str


@record(kw_only=True)
class Switching:
    """The sequence as data.

    After key down: antenna relay settled, power comes [s]; after key up: power gone, antenna let go, back at
    the receiver [s]. `early_s` is how much sooner power comes than the relay has settled, `late_s` how long
    power lasts beyond the moment in which the antenna is let go [s], each negative where all is in order.
    `key_up_s` is when the key is let go in the diagram, `ends_s` where that ends [s].
    """

    antenna: str
    settled_s: float | None
    power_s: float
    gone_s: float
    let_go_s: float | None
    back_s: float | None
    muted_s: float
    unmuted_s: float
    early_s: float | None
    late_s: float | None
    isolation_db: float | None
    at_receiver_dbm: float | None
    events: tuple[Event, ...]
    lanes: tuple[Lane, ...]
    key_up_s: float
    ends_s: float


def antenna_relay(feeding: Feeding) -> Relay | None:
    """The relay that switches the antenna."""
    of = ("antenna", "antenna_and_supplies")
    return next((each for each in feeding.supply.relays if each.switches in of), None)


def _supply_relay(feeding: Feeding) -> Relay | None:
    return next((each for each in feeding.supply.relays if each.switches == "supplies"), None)


@lru_cache(maxsize=16)
def switching(feeding: Feeding) -> Switching:
    """The sequence of a rig from key down to power and back."""
    asked, relay, contacts = feeding.supply.sequence, antenna_relay(feeding), _supply_relay(feeding)
    joint = relay is not None and relay.switches == "antenna_and_supplies"
    settled = let_go = back = None
    if relay is not None:
        # A coil that is on in receive is let go at key down: the times change places.
        on_s, off_s = relay.operate_s, relay.release_s
        if relay.powered == "receive":
            on_s, off_s = off_s, on_s
        settled, let_go = asked.antenna_s + on_s, asked.antenna_back_s
        back = let_go + off_s
    operate = release = 0.0
    if contacts is not None:
        operate, release = contacts.operate_s, contacts.release_s
    power, off = asked.transmit_s + operate, asked.transmit_off_s + release
    if joint and settled is not None and let_go is not None:
        # One armature: supply and antenna come over together, and part together.
        power, off = settled, let_go
    gone = off + asked.fall_s
    isolation = None if relay is None else open_contact_db(relay.contact_f, feeding.top_hz)
    early = None if settled is None else settled - power
    late = None if let_go is None else gone - let_go
    # Power that comes before the relay has left the receiver, or is there when it comes back, reaches it
    # whole.
    whole = settled is None or (early or 0.0) > 0 or (back is not None and gone > back)
    reaches = None
    if feeding.sends_dbm is not None and relay is not None and isolation is not None:
        reaches = feeding.sends_dbm - (0.0 if whole else isolation)
    key_up = max(power, settled or 0.0, asked.mute_s) + _HELD_S
    ends = key_up + max(gone, back or 0.0, asked.unmute_s) + _MARGIN_S
    events = [
        Event(key="down", after_s=asked.mute_s, what="receiver muted"),
        Event(key="down", after_s=power, what="transmitter has its supply, power can come"),
        Event(key="up", after_s=gone, what="power gone"),
        Event(key="up", after_s=asked.unmute_s, what="receiver heard again"),
    ]
    lanes = [
        Lane(name="key", on=((0.0, key_up),)),
        Lane(name="receiver heard", on=((-_MARGIN_S, asked.mute_s), (key_up + asked.unmute_s, ends))),
        Lane(name="power", on=((power, key_up + gone),)),
    ]
    if settled is not None and let_go is not None and back is not None:
        events += [
            Event(key="down", after_s=settled, what="antenna at the transmitter"),
            Event(key="up", after_s=let_go, what="antenna relay let go"),
            Event(key="up", after_s=back, what="antenna at the receiver"),
        ]
        lanes[2:2] = [
            Lane(name="antenna at receiver", on=((-_MARGIN_S, asked.antenna_s), (key_up + back, ends))),
            Lane(name="antenna at transmitter", on=((settled, key_up + let_go),)),
        ]
    return Switching(
        antenna="" if relay is None else relay.name,
        settled_s=settled,
        power_s=power,
        gone_s=gone,
        let_go_s=let_go,
        back_s=back,
        muted_s=asked.mute_s,
        unmuted_s=asked.unmute_s,
        early_s=early,
        late_s=late,
        isolation_db=isolation,
        at_receiver_dbm=reaches,
        events=tuple(sorted(events, key=lambda each: (each.key == "up", each.after_s))),
        lanes=tuple(lanes),
        key_up_s=key_up,
        ends_s=ends,
    )
