"""A picture with its question, the answer in a sentence, the legend, and the figures behind it."""

from __future__ import annotations

from collections.abc import Sequence

from coach.page.markup import Markup, Part, joined, tag

# What a legend shows: the sign as a drawing in a box of 34 by 20, and what it means.
Legend = Sequence[tuple[Markup, str]]


def figure(
    question: str,
    answer: str,
    *parts: Part,
    legend: Legend = (),
    table: Markup | None = None,
    kind: str | None = None,
) -> Markup:
    """`kind`: "across" for a picture as wide as the page; else it stands beside its words."""
    words = tag(
        "figcaption", tag("h3", question), tag("p", answer, class_="answer"), _legend(legend), table
    )
    return tag("figure", words, tag("div", *parts) if parts else None, class_=kind)


def _legend(legend: Legend) -> Markup | None:
    if not legend:
        return None
    items = (
        tag("li", tag("svg", sign, viewBox="0 0 34 20", aria_hidden="true"), words)
        for sign, words in legend
    )
    return tag("ul", *items, class_="legend")


def table(
    summary: str, heads: Sequence[str], rows: Sequence[Sequence[str]], caption: str
) -> Markup | None:
    """The figures behind a picture, folded away; None without any."""
    if not rows:
        return None
    head = tag("thead", tag("tr", *(tag("th", one, scope="col") for one in heads)))
    body = tag("tbody", *(_row(row) for row in rows))
    whole = tag("table", tag("caption", caption, class_="soft"), head, body, class_="figures")
    return tag("details", tag("summary", summary), tag("div", whole, class_="wide", tabindex=0))


def _row(cells: Sequence[str]) -> Markup:
    first, *others = cells
    return tag("tr", tag("th", first, scope="row"), joined(*(tag("td", one) for one in others)))
