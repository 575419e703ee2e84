"""Clusters that grow and end, and what is watched below an alarm (rules of common practice)."""

from __future__ import annotations

from datetime import timedelta

from kb.review.day.alarms import Baseline
from kb.review.day.clusters import clusters, watched
from kb.review.rows import Case
from tests.review.test_alarms import DAY, OPENING, case

NOW = OPENING + timedelta(minutes=99)


def found(cases: list[Case]) -> list[tuple[str, int, bool]]:
    return [
        (one.alarm.kind, len(one.places), one.growing(NOW))
        for one in clusters(cases, Baseline(), "UTC", DAY)
    ]


def test_a_cluster_is_told_once_and_grows() -> None:
    cases = [case(n, 10 * n) for n in range(1, 5)]
    assert found(cases) == [("scanner|jam", 4, True)]
    assert found([*cases, case(9, 95)]) == [("scanner|jam", 5, True)]


def test_the_reports_of_the_hour_before_the_alarm_belong_to_it_and_older_ones_do_not() -> None:
    cases = [case(0, 1), *(case(n, 60 + n) for n in range(1, 5))]
    (one,) = clusters(cases, Baseline(), "UTC", DAY)
    assert one.places == ("P1", "P2", "P3", "P4")


def test_a_kind_that_rises_again_later_is_a_new_cluster() -> None:
    early = [case(n, n) for n in range(1, 5)]
    late = [case(10 + n, 200 + n) for n in range(1, 6)]
    one, other = clusters(early + late, Baseline(), "UTC", DAY)
    assert (len(one.places), len(other.places)) == (5, 4)  # the newest first
    assert one.alarm.at > other.alarm.at


def test_no_report_for_an_hour_ends_the_growing() -> None:
    (one,) = clusters([case(n, n) for n in range(1, 5)], Baseline(), "UTC", DAY)
    assert one.growing(OPENING + timedelta(minutes=63))
    assert not one.growing(OPENING + timedelta(minutes=64))


def test_two_places_with_a_grave_symptom_are_watched() -> None:
    one = case(1, 90, symptom="memory-message")
    assert watched([one], NOW) == []
    (seen,) = watched([one, case(2, 95, symptom="memory-message")], NOW)
    assert (seen.what, seen.places) == ("memory", ("P1", "P2"))


def test_restored_grave_faults_are_watched_for_two_hours_more() -> None:
    later = NOW + timedelta(hours=3)
    over = [case(n, 90, symptom="clock-wrong", restored=NOW) for n in (1, 2)]
    assert watched(over, NOW)
    assert not watched(over, later)
    assert watched([case(n, 90, symptom="clock-wrong") for n in (1, 2)], later)


def test_one_trouble_under_several_names_is_read_together() -> None:
    cases = [
        case(1, 60, equipment="ballot-printer", symptom="faint"),
        case(2, 70, symptom="rejects-many"),
        case(3, 80, symptom="rejects-good"),
    ]
    (seen,) = watched(cases, NOW)
    assert seen.what == "faint print and ballots given back"
    assert seen.places == ("P1", "P2", "P3")
    # Of one kind alone it is that kind's own alarm.
    assert watched([case(n, 60, symptom="rejects-many") for n in range(3)], NOW) == []


def test_several_devices_at_one_large_place_are_watched() -> None:
    cases = [case(n, 80, place="P1", asset=f"SC-{n}") for n in range(3)]
    (seen,) = watched(cases, NOW)
    assert (seen.what, seen.places) == ("several devices at one place", ("P1",))
    assert watched(cases[:2], NOW) == []
    again = [case(n, 80, place="P1", asset="SC-1") for n in range(3)]
    assert watched(again, NOW) == []
