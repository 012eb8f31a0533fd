"""Records against dataclasses of the same fields."""

from dataclasses import FrozenInstanceError, dataclass, field, fields, replace
from functools import cached_property

import pytest

from core.record import record


def both(**how):
    """The same class, made either way."""

    def of(decorator):
        class Reading:
            """A reading."""

            volt: float
            name: str = "at the base"
            notes: tuple[str, ...] = field(default_factory=tuple)

        return decorator(Reading)

    kept = {"slots": True} | how
    return of(record(**how)), of(dataclass(frozen=True, **kept))


@pytest.mark.parametrize("how", [{}, {"kw_only": True}, {"slots": False}])
def test_a_record_does_what_a_frozen_dataclass_does(how):
    ours, theirs = both(**how)
    for cls in (ours, theirs):
        one, other = cls(volt=0.7), cls(volt=0.7, notes=())
        assert one == other
        assert hash(one) == hash(other)
        assert one is not other
        assert one != cls(volt=0.8)
        assert one != 0.7
        assert replace(one, name="at the emitter") == cls(volt=0.7, name="at the emitter")
        assert [each.name for each in fields(cls)] == ["volt", "name", "notes"]
        with pytest.raises(FrozenInstanceError):
            one.volt = 1.0
        with pytest.raises(FrozenInstanceError):
            del one.volt
        with pytest.raises((FrozenInstanceError, AttributeError, TypeError)):
            one.other = 1
        with pytest.raises(TypeError):
            cls()
        assert (how == {"kw_only": True}) == (positional(cls) is None)
        assert hasattr(one, "__dict__") == (how == {"slots": False})
    assert repr(ours(volt=0.7)) == repr(theirs(volt=0.7))
    assert ours(volt=0.7) != theirs(volt=0.7)


def test_what_is_made_often_is_made_as_what_is_made_seldom():
    """The first instances are filled in one by one; behind them `__init__` is compiled, and says the same."""
    ours, theirs = both(kw_only=False)
    for _ in range(60):
        assert ours(0.7, notes=("loud",)).notes == ("loud",)
        assert ours(volt=0.7) == ours(0.7, "at the base", ())
        assert ours(0.7).notes == ()
    assert ours.__init__.__qualname__ == "both.<locals>.of.<locals>.Reading.__init__"
    for args, named in (((), {}), ((1.0, "a", (), 4), {}), ((1.0,), {"volt": 2.0}), ((1.0,), {"ohm": 5.0})):
        fresh, _ = both()
        told = []
        for cls in (fresh, ours, theirs):
            with pytest.raises(TypeError) as caught:
                cls(*args, **named)
            told.append(str(caught.value))
        assert told == [told[2]] * 3


def positional(cls):
    try:
        return cls(0.7)
    except TypeError:
        return None


def test_without_equality_each_is_equal_to_itself():
    ours, _ = both(eq=False)
    one = ours(0.7)
    assert one != ours(0.7)
    assert len({one, one, ours(0.7)}) == 2


def test_a_record_without_slots_keeps_what_it_computes():
    @record(slots=False)
    class Square:
        side_m: float

        @cached_property
        def area_m2(self):
            return self.side_m**2

    one = Square(3.0)
    assert one.area_m2 == 9.0
    assert vars(one) == {"side_m": 3.0, "area_m2": 9.0}
    assert one == Square(3.0)


def test_a_record_of_a_record_has_the_fields_of_both_and_its_own_first_instance():
    @record(slots=False, kw_only=True)
    class Row:
        ref: str

    @record(slots=False, kw_only=True)
    class Priced(Row):
        cent: int = 5

    assert Row(ref="R1") != Priced(ref="R1")
    assert Priced(ref="R1") == Priced(ref="R1", cent=5)
    assert Row(ref="R1") == Row(ref="R1")
    with pytest.raises(TypeError):
        Row(ref="R1", cent=5)


def test_what_a_class_says_itself_stays():
    @record
    class Named:
        name: str

        def __repr__(self):
            return self.name

    assert repr(Named("Q1")) == "Q1"
