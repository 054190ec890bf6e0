"""Which reports are due: weekdays of plant.toml, the week, and what was sent."""

from __future__ import annotations

import datetime as dt

import pytest

from monitor.report import ReportStatus, SentReport, due
from shared.plant import ReportStyle

WEEK, AFTER = "2026-W45", dt.date(2026, 11, 9)
STYLE = ReportStyle.model_validate({"customer": [{"customer": "A", "day": "mon"}, {"customer": "B", "day": "wed"}]})


def sent(customer: str, week: str = WEEK, version: int = 3) -> SentReport:
    return SentReport(
        customer, week, version=version, sent_at="2026-11-09T08:00:00+01:00", figures_hash="ab", files={}, figures={}
    )


@pytest.mark.parametrize(
    ("today", "standing"),
    [
        (dt.date(2026, 11, 8), [ReportStatus.AHEAD, ReportStatus.AHEAD, ReportStatus.UNPLANNED]),
        (dt.date(2026, 11, 9), [ReportStatus.DUE, ReportStatus.AHEAD, ReportStatus.UNPLANNED]),
        (dt.date(2026, 11, 12), [ReportStatus.DUE, ReportStatus.DUE, ReportStatus.UNPLANNED]),
    ],
)
def test_a_report_is_due_from_its_day_on_until_it_is_sent(today: dt.date, standing: list[ReportStatus]) -> None:
    rows = due(STYLE, ["A", "B", "C"], week=WEEK, after=AFTER, today=today, sent=[])
    assert [row.standing for row in rows] == standing
    assert [row.on for row in rows] == [dt.date(2026, 11, 9), dt.date(2026, 11, 11), None]


def test_what_was_made_when_it_was_due_waits_to_be_sent() -> None:
    made = [sent("A"), sent("B", week="2026-W44"), sent("C")]
    rows = due(
        STYLE,
        ["A", "B", "C"],
        week=WEEK,
        after=AFTER,
        today=dt.date(2026, 11, 12),
        sent=[sent("C", version=4)],
        made=made,
    )
    assert [row.standing for row in rows] == [ReportStatus.MADE, ReportStatus.DUE, ReportStatus.SENT]
    assert [row.made and row.made.customer for row in rows] == ["A", None, "C"]


def test_what_was_sent_about_the_week_last_counts_and_no_other() -> None:
    register = [sent("A"), sent("A", version=4), sent("B", week="2026-W44"), sent("C")]
    rows = due(STYLE, ["A", "B", "C"], week=WEEK, after=AFTER, today=AFTER, sent=register)
    assert [row.standing for row in rows] == [ReportStatus.SENT, ReportStatus.AHEAD, ReportStatus.SENT]
    assert [row.sent and row.sent.version for row in rows] == [4, None, 3]
