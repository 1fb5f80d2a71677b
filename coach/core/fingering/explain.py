"""Why a plan departs from the chart: what were dearer if this one note were fingered as usual."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.fingering.candidates import Candidate
from coach.core.fingering.problem import FingeringPlan, Problem
from coach.core.fingering.terms import Terms, cost_of

# The figures of the weights are judgements, so small differences between plans mean little; least
# between plans on different sides, since how a side speaks is a matter of the horn and its player.
CLOSE_COST = 2.0
CLOSE_SHARE, CLOSE_SHARE_ACROSS = 0.25, 0.75


def summed(terms: Sequence[Terms]) -> Terms:
    """The totals by term."""
    totals: Terms = {}
    for each in terms:
        for name, cost in each.items():
            totals[name] = totals.get(name, 0.0) + cost
    return totals


def are_close(one: FingeringPlan, other: FingeringPlan) -> bool:
    """Whether the difference is too small to be decided on paper."""
    pairs = zip(one.chosen, other.chosen, strict=True)
    across = 2 * sum(a.side != b.side for a, b in pairs) > len(one.chosen)
    share = CLOSE_SHARE_ACROSS if across else CLOSE_SHARE
    return abs(other.cost - one.cost) <= max(CLOSE_COST, share * min(one.cost, other.cost))


def reasons(problem: Problem, plan: FingeringPlan) -> tuple[str, ...]:
    """One short sentence for each note that departs from the chart (or from what the fingers know),
    "" for the others."""
    return tuple(_reason(problem, plan, k) for k in range(len(plan.chosen)))


def _reason(problem: Problem, plan: FingeringPlan, k: int) -> str:
    spot, here = problem.spots[k], plan.chosen[k]
    if spot.pinned is not None:
        return "as you marked it"
    usual = spot.known or next(iter(problem.usual[k]), None)
    if usual is None or here.fingering == usual:
        return ""
    other = next((c for c in problem.choices[k] if c.fingering == usual), None)
    if other is None:
        return f"{usual} was left out"
    saved = _saved(problem, plan, k, other)
    name = _chief(saved)
    if not name or saved[name] <= 0:
        return "needed for the notes around it"
    return _sentence(name, problem, plan, k, other) + _warning(here, spot.gap_s)


def _chief(saved: Terms) -> str:
    """The term that saves most; an exchange tells more than the fingers that move in it."""
    name = max(sorted(saved), key=lambda term: saved[term], default="")
    half = saved.get("fingers", 0.0) / 2
    return "exchanges" if name == "fingers" and saved.get("exchanges", 0.0) > half else name


def _saved(problem: Problem, plan: FingeringPlan, k: int, other: Candidate) -> Terms:
    """By term, how much dearer the plan were with `other` at this note."""
    swapped = [*plan.chosen[:k], other, *plan.chosen[k + 1 :]]
    here, there = (_near(problem, chosen, k) for chosen in (plan.chosen, swapped))
    return {name: there.get(name, 0) - here.get(name, 0) for name in {*here, *there}}


def _near(problem: Problem, chosen: Sequence[Candidate], k: int) -> Terms:
    """The terms of the phrase around a note and of the note after it, and of those it is the image
    of."""
    spots = problem.spots
    start = next((at for at in range(k, 0, -1) if spots[at].fresh), 0)
    end = next((at for at in range(k + 1, len(spots)) if spots[at].fresh), len(spots) - 1)
    terms = summed(_part(problem, chosen, range(start, end + 1)))
    later = [at for at in range(end + 1, min(len(spots), end + 17)) if spots[at].image == k]
    for at in later:
        shape = _part(problem, chosen, range(at, at + 1))[0].get("same_shape", 0.0)
        terms["same_shape"] = terms.get("same_shape", 0.0) + shape
    return terms


def _part(problem: Problem, chosen: Sequence[Candidate], places: range) -> tuple[Terms, ...]:
    return cost_of(
        problem.spots,
        chosen,
        problem.usual,
        problem.weights,
        slide=problem.slide,
        places=places,
    )


def _sentence(name: str, problem: Problem, plan: FingeringPlan, k: int, other: Candidate) -> str:
    here = plan.chosen[k]
    side = f"the {side_word(here.side)} side" if here.side else "its side"
    sentences = {
        "exchanges": f"spares {_exchange(plan, k, other)}",
        "side_changes": f"stays on {side}",
        "fingers": "fewer fingers move",
        "second_third": "spares 2 and 3 together",
        "ring_finger": "spares the ring finger",
        "length_added": "no sudden length of tube, which speaks late",
        "same_shape": "the same valves as in the figure before",
        "intonation": f"nearer in tune ({_cents(here)} cents instead of {_cents(other)})",
        "clarity": "the shorter tube speaks clearer at this speed",
        "narrow_partials": f"safer: partial {here.partial} instead of {other.partial}",
        "rare_partials": f"partial {other.partial} is not safe",
        "partials_slurred": "the slur crosses fewer partials",
        "measured": "your own takes show this move to be quicker",
        "slide": "a shorter way for the arm",
    }
    return sentences.get(name, "cheaper in all")


def _exchange(plan: FingeringPlan, k: int, other: Candidate) -> str:
    """The exchange that the usual fingering would bring: before the note, or after it."""
    before = plan.chosen[k - 1] if k else None
    after = plan.chosen[k + 1] if k + 1 < len(plan.chosen) else None
    for one, two in ((before, other), (other, after)):
        if one is None or two is None:
            continue
        ups = [f for f in one.valves if f not in two.valves and f != "0"]
        downs = [f for f in two.valves if f not in one.valves and f != "0"]
        if ups and downs:
            return "an exchange of {} and {}".format(*sorted((ups[0], downs[0])))
    return "a further exchange"


def side_word(side: str) -> str:
    """ "Bb" in words: "B-flat"."""
    return side.replace("Bb", "B-flat")


def _cents(candidate: Candidate) -> str:
    return f"{candidate.cents:+.0f}"


def _warning(here: Candidate, gap_s: float) -> str:
    if here.partial == 7 and gap_s < 0.5:
        return f" (seventh partial, {abs(here.cents):.0f} cents flat: only while short)"
    return ""
