"""The table of packages in DEVELOPERS.md holds all that come along, with licences that go with
ours."""

from __future__ import annotations

import re

import pytest

from tests.outside.packages import COMPATIBLE, ROOT, installed, licence, parts, wanted

ROW = re.compile(r"\| ([a-z0-9-]+) \| ([^|]+) \| ([^|]+) \|")


@pytest.fixture(scope="module")
def rows() -> dict[str, str]:
    """Licence by package."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    section = text.partition("## Packages")[2].partition("\n## ")[0]
    found = ROW.findall(section)[1:]  # without the heading
    return {name: said.strip() for name, _, said in found}


def test_what_is_asked_for_stands_there(rows):
    assert set(wanted()) <= set(rows)


def test_each_licence_is_as_its_package_says(rows):
    """Of those that are installed here, and those that they bring along."""
    for name, package in installed().items():
        told = set(parts(licence(package)))
        assert told <= COMPATIBLE, name
        # Another version may say it in other words.
        assert told & set(parts(rows[name])), name


def test_each_licence_goes_with_ours(rows):
    for name, said in rows.items():
        assert set(parts(said)) <= COMPATIBLE, name
