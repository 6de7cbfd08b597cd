"""The curve and the events, as read from the daemon's record."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from api.record import COLUMNS, TERMS, RecordUnreadable, opened, read_curve, read_events
from daemon.window import RECORDED
from tests.api.house import House
from tests.api.kiln_record import CLIMB_K_PER_S, KilnRecord
from tests.api.test_status import problem_of


def test_a_short_firing_is_shown_row_by_row(house: House, record: KilnRecord) -> None:
    record.climb(3, range(100))
    record.climb(2, range(5))
    house.hear(record=str(record.path))
    curve = house.client.get("/curve").json()
    assert curve["firing"] == 3
    assert curve["since_start_s"] == [float(s) for s in range(100)]
    assert curve["chamber_c"] == [20 + s * CLIMB_K_PER_S for s in range(100)]
    assert curve["setpoint_c"] == [None if s < 60 else 22 + s * CLIMB_K_PER_S for s in range(100)]
    assert {len(column) for key, column in curve.items() if key not in ("firing", "terms")} == {100}
    assert curve["terms"] == {}


def test_terms_of_the_decision_are_given_when_asked_for(house: House, record: KilnRecord) -> None:
    record.climb(3, range(100))
    house.hear(record=str(record.path))
    asked = house.client.get("/curve", params={"terms": ["wanted_air_ratio", "air_ratio", "air_ratio"]}).json()
    ratios = [None if s < 60 else 1.2 + s % 60 / 100 for s in range(100)]
    assert asked["terms"] == {"air_ratio": ratios, "wanted_air_ratio": [1.32] * 100}
    assert house.client.get("/curve").json() == {**asked, "terms": {}}  # whoever asks for less gets less


def test_every_recorded_number_is_either_a_curve_s_own_or_a_term() -> None:
    numbers = {column.name for column in RECORDED if column.sql == "REAL"}
    assert len(TERMS) == len(set(TERMS)) > 20
    assert {*TERMS, *COLUMNS, "now_s"} == numbers
    assert {"ff_frac", "air_ratio", "work_owed_s", "draught_setpoint_pa", "fan_frac"} <= set(TERMS)


def test_every_term_has_its_column_and_a_firing_without_rows_an_empty_one(record: KilnRecord) -> None:
    assert read_curve(record.path, 3, 600, TERMS).terms == {term: [] for term in TERMS}
    record.climb(3, range(2))
    assert {term: len(column) for term, column in read_curve(record.path, 3, 600, TERMS).terms.items()} == {
        term: 2 for term in TERMS
    }


def test_a_record_from_before_the_terms_is_still_drawn(record: KilnRecord) -> None:
    record.climb(3, range(10))
    record.db.execute("ALTER TABLE readings DROP COLUMN air_ratio")
    assert len(read_curve(record.path, 3, 600).since_start_s) == 10
    with pytest.raises(RecordUnreadable, match="air_ratio"):
        read_curve(record.path, 3, 600, ("air_ratio",))


def test_a_long_firing_is_thinned_evenly_to_its_ends(record: KilnRecord) -> None:
    record.climb(3, range(12 * 3600))
    curve = read_curve(record.path, 3, 600)
    assert len(curve.since_start_s) == 600
    assert (curve.since_start_s[0], curve.since_start_s[-1]) == (0.0, 12 * 3600 - 1)
    gaps_s = {b - a for a, b in pairwise(curve.since_start_s)}
    assert gaps_s == {72.0, 73.0}  # 43199 s in 599 steps of 72.12 s, on whole seconds
    assert curve.chamber_c == [20 + s * CLIMB_K_PER_S for s in curve.since_start_s]


def test_a_firing_with_a_hole_in_its_record_has_no_invented_points(record: KilnRecord) -> None:
    seconds = [*range(50), *range(950, 1000)]
    record.climb(3, seconds)
    curve = read_curve(record.path, 3, 100)
    assert set(curve.since_start_s) <= {float(s) for s in seconds}
    assert len(set(curve.since_start_s)) == len(curve.since_start_s) <= 100


@pytest.mark.parametrize("points", [2, 3, 600, 2000])
def test_a_curve_never_has_more_points_than_asked_for(record: KilnRecord, points: int) -> None:
    record.climb(3, range(5000))
    assert len(read_curve(record.path, 3, points).since_start_s) == min(points, 5000)


def test_fifty_watchers_read_the_record_once_in_four_seconds(house: House, record: KilnRecord) -> None:
    record.climb(3, range(10))
    house.hear(record=str(record.path))
    first = house.client.get("/curve").json()
    record.climb(3, range(10, 20))
    house.clock.advance(3.9)
    assert [house.client.get("/curve").json() for _ in range(50)] == [first] * 50
    house.clock.advance(0.1)
    assert len(house.client.get("/curve").json()["since_start_s"]) == 20


def test_without_a_firing_or_a_record_the_curve_is_empty(house: House, record: KilnRecord) -> None:
    for scene, path in (("cold", str(record.path)), ("climbing", None)):
        house.hear(scene, record=path)
        assert house.client.get("/curve").json()["since_start_s"] == []
        assert house.client.get("/events").json() == {"firing": None, "events": []}
    house.hear(record=str(record.path))  # a firing that has no row yet
    assert house.client.get("/curve").json()["chamber_c"] == []


def test_a_missing_record_is_a_problem_that_says_where_it_should_be(house: House, tmp_path: Path) -> None:
    missing = tmp_path / "gone.sqlite"
    house.hear(record=str(missing))
    for address in ("/curve", "/events"):
        body = problem_of(house.client.get(address), 503)
        assert body["type"] == "urn:stokehand:record-unreadable" and str(missing) in body["detail"]
    assert not missing.exists()


@pytest.mark.parametrize("content", [b"no database at all, just words", b""])
def test_a_record_that_is_none_is_a_problem(house: House, tmp_path: Path, content: bytes) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(content)
    house.hear(record=str(broken))
    problem_of(house.client.get("/curve"), 503)
    problem_of(house.client.get("/events"), 503)
    assert broken.read_bytes() == content


def test_a_row_that_is_not_what_the_record_promises_is_named(record: KilnRecord) -> None:
    record.db.execute("INSERT INTO readings(firing, now_s, chamber_c) VALUES (3, 1, 'hot')")
    record.db.commit()
    with pytest.raises(RecordUnreadable, match="chamber_c"):
        read_curve(record.path, 3, 600)


def test_the_record_can_be_read_after_the_daemon_closed_it(record: KilnRecord) -> None:
    record.climb(3, range(10))
    record.db.close()
    assert not record.path.with_name("record.sqlite-wal").exists()
    assert len(read_curve(record.path, 3, 600).since_start_s) == 10


def test_reading_does_not_hold_the_daemon_up(record: KilnRecord) -> None:
    record.climb(3, range(10))
    record.db.execute("BEGIN IMMEDIATE")
    assert len(read_curve(record.path, 3, 600).since_start_s) == 10
    record.db.execute("INSERT INTO readings(firing, now_s) VALUES (3, 510)")
    record.db.commit()
    assert len(read_curve(record.path, 3, 600).since_start_s) == 11


def test_events_come_in_order_from_where_the_reader_left_off(house: House, record: KilnRecord) -> None:
    for n in range(1, 4):
        record.event(3, "state", f"Event {n}.")
    record.event(2, "state", "Of another firing.")
    house.hear(record=str(record.path))
    events = house.client.get("/events").json()["events"]
    assert [(e["id"], e["happened"]) for e in events] == [(1, "Event 1."), (2, "Event 2."), (3, "Event 3.")]
    assert [e["id"] for e in house.client.get("/events", params={"after": 2}).json()["events"]] == [3]
    assert house.client.get("/events", params={"after": 3}).json()["events"] == []


def test_a_very_eventful_firing_comes_in_portions(record: KilnRecord) -> None:
    sql = "INSERT INTO events(firing, now_s, utc_s, kind) VALUES (3, 1, 1, 'note')"
    for _ in range(510):
        record.db.execute(sql)
    record.db.commit()
    first = read_events(record.path, 3, 0).events
    rest = read_events(record.path, 3, first[-1].id).events
    assert [e.id for e in first + rest] == list(range(1, 511))


@pytest.mark.parametrize(
    "query", ["points=1", "points=2001", "points=many", "points=", "terms=", "terms=feed; DROP", "terms=state"]
)
def test_a_curve_of_no_sensible_fineness_or_unknown_terms_is_refused(house: House, query: str) -> None:
    house.hear()
    problem_of(house.client.get(f"/curve?{query}"), 422)


def test_the_server_can_not_write_to_the_record(record: KilnRecord) -> None:
    record.climb(3, range(10))
    with pytest.raises(RecordUnreadable, match="readonly"), opened(record.path) as db:
        db.execute("DELETE FROM readings")
    assert len(read_curve(record.path, 3, 600).since_start_s) == 10
