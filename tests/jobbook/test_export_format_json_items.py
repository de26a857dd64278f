"""A JSON object that is walked through holds what reading it whole finds."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.jobbook.export_format import members

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=10,
)


@given(st.dictionaries(st.text(), JSON, min_size=1, max_size=4), st.sampled_from([None, 0, 2]))
def test_walking_through_an_object_finds_what_reading_it_whole_does(
    data: dict[str, Any], indent: int | None
) -> None:
    found: dict[str, Any] = {}
    for member in members(json.dumps(data, indent=indent)):
        if member.number is None:
            found[member.name] = member.value
        elif member.number == 0:
            found[member.name] = []
        else:
            found[member.name].append(member.value)
            assert len(found[member.name]) == member.number
    assert found == data


@given(st.text(alphabet='{}[],:"a1 \n', max_size=12))
def test_what_is_no_json_object_is_never_walked_through(text: str) -> None:
    try:
        whole = json.loads(text)
    except ValueError:
        whole = None
    if isinstance(whole, dict) and whole:
        assert list(members(text))
    else:
        with pytest.raises(ValueError, match=r"."):
            list(members(text))
