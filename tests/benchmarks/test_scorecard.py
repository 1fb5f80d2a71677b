"""The scorecard's table on made-up rows; and that the table kept is one of today's rows."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest

from tests.benchmarks.scorecard.rows import SECTIONS, SHARE, Figure, Row, Section
from tests.benchmarks.scorecard.table import (
    PAGE,
    kept_date,
    kept_rows,
    number,
    peer_of,
    ratio_of,
    rewritten,
    shown,
    table,
)

QUICKER = Row("quicker", "some work", "numpy", "dot", "s")
OFTENER = Row("oftener", "share found", "numpy", unit=SHARE, more=True)
ALONE = Row("alone", "nobody else", unit="MB")
MADE_UP = (Section("Made up", "one", (QUICKER, OFTENER)), Section("Alone", "two", (ALONE,)))
FIGURES = {
    "one": {"quicker": Figure(0.5, 2.0, "3 files"), "oftener": Figure(0.5, 0.25, "4 notes")},
    "two": {"alone": Figure(1234.5, None, "1")},
}
PAGE_BEFORE = "# Page\n\nAbout it.\n\nMeasured on never.\n\n```text\n```\n\n## More\n\n- Words.\n"


@pytest.mark.parametrize(
    ("row", "ours", "theirs", "wanted"),
    [
        (QUICKER, 0.5, 2.0, 4.0),
        (QUICKER, 2.0, 0.5, 0.25),
        (OFTENER, 0.5, 0.25, 2.0),
        (QUICKER, 0.5, None, None),
        (QUICKER, 0.0, 2.0, None),
        (OFTENER, 0.5, 0.0, None),
    ],
)
def test_above_one_ours_is_better(row, ours, theirs, wanted):
    assert ratio_of(row, Figure(ours, theirs, "")) == wanted


def test_numbers_have_three_figures():
    values = (0.0, 0.012345, 0.99996, 1.0, 7.456, 23.04, 1234.5)
    assert [number(v) for v in values] == ["0", "0.0123", "1.00", "1.00", "7.46", "23.0", "1,230"]
    assert shown(0.99999, SHARE) == "0.9999"
    assert shown(31.23, "x") == "31.2x"


def test_every_row_stands_in_the_table_within_100_columns():
    lines = table(MADE_UP, FIGURES).splitlines()
    [quicker] = [line for line in lines if line.startswith("some work")]
    assert quicker.split()[2:9] == ["0.500", "s", "2.00", "s", "4.00", "3", "files"]
    assert quicker.endswith(peer_of(QUICKER))
    assert max(map(len, table(SECTIONS, {}).splitlines())) <= 100


def test_a_page_keeps_what_is_written_by_hand():
    once = rewritten(PAGE_BEFORE, "Measured on 2001-02-03, a full run.", table(MADE_UP, FIGURES))
    again = rewritten(once, "Measured on 2004-05-06, a full run.", table(MADE_UP, {}))
    assert kept_date(PAGE_BEFORE) is None
    assert kept_date(again) == "2004-05-06"
    assert [ours for _, ours, _ in kept_rows(once)] == ["0.500", "0.5000", "1,230"]
    assert [ours for _, ours, _ in kept_rows(again)] == ["-", "-", "-"]
    for page in (once, again):
        assert page.startswith("# Page\n\nAbout it.\n\nMeasured on 200")
        assert page.endswith("```\n\n## More\n\n- Words.\n")


def test_the_kept_table_has_a_date_and_every_row_of_the_command():
    page = PAGE.read_text(encoding="utf-8")
    assert date.fromisoformat(kept_date(page) or "") <= date.today()
    assert ", a full run of " in page
    kept = list(kept_rows(page))
    rows = [row for section in SECTIONS for row in section.rows]
    # The versions of the libraries may be others by now.
    assert [(what, peer.split()[0]) for what, _, peer in kept] == [
        (row.what, row.peer or "-") for row in rows
    ]
    assert [what for what, ours, _ in kept if ours == "-"] == []


def test_every_key_is_there_once():
    for section in SECTIONS:
        assert set(Counter(row.key for row in section.rows).values()) == {1}
