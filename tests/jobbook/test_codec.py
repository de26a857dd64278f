from __future__ import annotations

import json
import typing

import pytest
from any_value import LEAVES, any_value
from hypothesis import given
from hypothesis import strategies as st
from jobbook_samples import heard, taken

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import JobSetup
from gaugelink.jobbook.codec import UnreadableRow, decode, encode
from gaugelink.jobbook.entries import ACTS, BODIES, EntryColumns, columns_of, item_of
from gaugelink.model import GaugeEvent, GaugeEventBody, GaugeInfo, Ident


def event_with(body: type) -> st.SearchStrategy[GaugeEvent]:
    return st.builds(
        GaugeEvent, gauge_id=LEAVES[str], elapsed_s=LEAVES[float], body=any_value(body)
    )


def letters(item: object) -> list[str]:
    """What ``repr`` shows, sets in any order: tells -0.0 from 0.0, and an enum from its text."""
    return sorted(repr(item))


STRATEGIES = [
    *(pytest.param(event_with(t), id=t.__name__) for t in typing.get_args(GaugeEventBody)),
    *(pytest.param(any_value(t), id=t.__name__) for t in typing.get_args(Act)),
]


def test_the_tables_name_every_body_and_every_act():
    assert set(BODIES.values()) == set(typing.get_args(GaugeEventBody))
    assert set(ACTS.values()) == set(typing.get_args(Act))


@pytest.mark.parametrize("items", STRATEGIES)
def test_every_event_and_act_comes_back_exactly(items):
    @given(items)
    def comes_back(item):
        row = columns_of(item)
        row.detail.encode("utf-8")  # SQLite takes nothing else
        again = item_of(row)
        assert again == item
        assert letters(again) == letters(item)

    comes_back()


@given(any_value(GaugeInfo))
def test_a_gauge_comes_back_exactly(info):
    assert letters(decode(GaugeInfo, encode(info))) == letters(info)


@given(any_value(JobSetup))
def test_a_setup_comes_back_exactly(setup):
    assert letters(decode(JobSetup, encode(setup))) == letters(setup)


def test_the_rows_of_a_reading_and_of_a_taken_reading_are_what_older_files_hold():
    reading = (
        '{"value_mm":11.02,"resolution_mm":0.01,"displayed":"11.02","unit":"mm","channel":"",'
        '"flags":["held","low battery"]}'
    )
    at = '"gauge_id":"caliper-1","elapsed_s":157.42857142857142'
    assert columns_of(heard(1102)) == EntryColumns(
        origin="gauge",
        kind="reading",
        raw=b"1102\r\n",
        detail=f'{{{at},"body":{reading}}}',
    )
    assert columns_of(taken(1102)) == EntryColumns(
        origin="job",
        kind="taken",
        raw=b"1102\r\n",
        detail=f'{{{at},"measurand":"bore","note":"","reading":{reading}}}',
    )


def test_a_body_without_bytes_is_told_from_one_with_none():
    nothing = GaugeEvent(gauge_id="g", elapsed_s=0.0, body=Ident(text="", raw=b""))
    assert columns_of(nothing).raw == b""
    assert item_of(columns_of(nothing)) == nothing


BAD_ROWS = {
    "unknown event": EntryColumns(origin="gauge", kind="smell", raw=None, detail="{}"),
    "act among events": EntryColumns(origin="gauge", kind="taken", raw=None, detail="{}"),
    "unknown act": EntryColumns(origin="job", kind="reading", raw=None, detail="{}"),
    "no JSON": EntryColumns(origin="job", kind="resumed", raw=None, detail="{"),
    "not an object": EntryColumns(origin="job", kind="resumed", raw=None, detail="[1]"),
    "no detail": EntryColumns(
        origin="job", kind="resumed", raw=None, detail=typing.cast(str, None)
    ),
    "field missing": EntryColumns(origin="job", kind="resumed", raw=None, detail="{}"),
    "field unknown": EntryColumns(
        origin="job", kind="resumed", raw=None, detail='{"gauge_id":"g","mood":1}'
    ),
    "body missing": EntryColumns(
        origin="gauge", kind="ident", raw=b"", detail='{"gauge_id":"g","elapsed_s":0.0}'
    ),
    "bytes missing": columns_of(heard(1))._replace(raw=None),
    "bytes that are text": columns_of(heard(1))._replace(raw=typing.cast(bytes, "1")),
    "unit unknown": columns_of(heard(1))._replace(
        detail=columns_of(heard(1)).detail.replace('"mm"', '"ell"')
    ),
}


@pytest.mark.parametrize("row", BAD_ROWS.values(), ids=BAD_ROWS)
def test_a_row_that_is_not_ours_is_refused(row):
    with pytest.raises(UnreadableRow):
        item_of(row)


def test_detail_is_json_that_other_programs_read():
    assert json.loads(columns_of(taken(5)).detail)["measurand"] == "bore"
