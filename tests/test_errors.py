"""The error tree: drawn as it is, and each message whole."""

import re

import pytest

from tanksolve import errors


def test_the_drawn_tree_is_the_real_one():
    drawn = set(re.findall(r"^    (?:[|`]-- )?(\w+Error)\b", errors.__doc__, flags=re.MULTILINE))
    assert drawn == set(errors.__all__)
    for name in errors.__all__:
        assert issubclass(getattr(errors, name), errors.TanksolveError)


def test_a_message_says_where_what_allowed_and_what_to_do():
    error = errors.PortError("is outside", where="port 'a'", allowed="inside", next_step="move it")
    assert error.message == "port 'a': is outside\n  allowed: inside\n  next: move it"
    assert str(error) == error.message


def test_what_is_not_known_leaves_no_empty_line():
    assert errors.FillError("too much").message == "too much"


def test_an_outer_place_comes_first_and_the_family_stays():
    told = errors.QuantityError("no unit", where="size", allowed="mm", next_step="add mm").at(
        "a.toml"
    )
    assert type(told) is errors.QuantityError
    assert told.message == "a.toml, size: no unit\n  allowed: mm\n  next: add mm"
    assert errors.FillError("too much").at("--fill").message == "--fill: too much"


def test_users_mistakes_are_not_caught_as_programmers():
    with pytest.raises(errors.TanksolveError):
        raise errors.MeshError("leaks")
    assert not issubclass(errors.TanksolveError, ValueError)
