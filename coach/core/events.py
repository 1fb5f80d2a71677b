"""What a session writes down while it runs, as plain data for one JSON object a line."""

from __future__ import annotations

from typing import Any

from coach.core.report import Report, note_dict
from coach.core.take import Attack, Verdict
from coach.core.timeline import Plan


def take_start(number: int, plan: Plan) -> dict[str, Any]:
    rate = plan.rate
    return {
        "event": "take_start",
        "take": number,
        "tempo_bpm": plan.exercise.tempo_bpm,
        "notes": len(plan.dues),
        "downbeat_frame": plan.downbeat_frame,
        "sample_rate": rate,
        "expected": [
            {
                "onset_s": round((d.frame - plan.downbeat_frame) / rate, 6),
                "duration_s": round(d.length_frames / rate, 6),
                "midi": d.pitch,
                "slurred": d.slurred,
            }
            for d in plan.dues
        ],
    }


def turn(event: str, plan: Plan) -> dict[str, Any]:
    """Beginning or end of a turn that is not judged: with air, or on the mouthpiece."""
    passage = plan.exercise.passage
    return {"event": event, "way": passage.way, "tempo_bpm": plan.exercise.tempo_bpm}


def take_lost(number: int, why: str) -> dict[str, Any]:
    """The take that ran is given up, through no fault of the player's."""
    return {"event": "take_lost", "take": number, "reason": why}


def device(event: str, what: str) -> dict[str, Any]:
    """A device is gone ("device_lost"), or there again ("device_back")."""
    return {"event": event, "what": what}


def glimpse(number: int, seen: Attack, plan: Plan, position: int) -> dict[str, Any]:
    """A first sight of a note: it may turn out to be elsewhere, or not to have been played."""
    return {
        "event": "glimpse",
        "take": number,
        "index": seen.due,
        "attack_s": round((seen.frame - plan.downbeat_frame) / plan.rate, 4),
        "confidence": round(seen.confidence, 2),
        "shown_after_ms": round(max(0.0, (position - seen.frame) * 1000 / plan.rate), 1),
    }


def verdict_told(number: int, verdict: Verdict, plan: Plan) -> dict[str, Any]:
    fields = note_dict(verdict, plan.rate, plan.downbeat_frame)
    return {"event": "verdict", "take": number, **fields, "decided_after_ms": None}


def take_end(
    number: int, report: Report, next_tempo_bpm: float, lost: int, clipped: bool
) -> dict[str, Any]:
    summary = report.to_dict()
    summary.pop("gaps")
    return {
        "event": "take_end",
        "take": number,
        "accuracy": summary.pop("accuracy"),
        "passed": summary.pop("passed"),
        "next_tempo_bpm": next_tempo_bpm,
        "lost_frames": lost,
        "clipped": clipped,
        **summary,
    }
