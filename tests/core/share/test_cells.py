"""Cells of a spreadsheet."""

from __future__ import annotations

import pytest

from coach.core.share.cells import safe


@pytest.mark.parametrize("text", ["=1+1", "+1", "-2", "@SUM(A1)", "\t=1", "\r=1", "-"])
def test_text_that_would_be_calculated_is_told_to_be_text(text):
    """OWASP, "CSV Injection": these beginnings."""
    assert safe(text).startswith("'")
    assert safe(text)[1:] == text


@pytest.mark.parametrize("cell", [-3.5, 0, None, "12", "a = b", "'", "Etude -2"])
def test_others_stay(cell):
    assert safe(cell) == cell


def test_one_cell_is_one_line():
    assert safe("a\nb\r\nc") == "a b c"
