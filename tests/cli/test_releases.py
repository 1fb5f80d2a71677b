"""`coach tutti` tells where notes before rests stopped, whatever the player is heard by."""

from __future__ import annotations

import pytest

from coach.cli import main
from coach.cli.opening import midi_ear
from coach.cli.stage import Stage
from coach.core.take import Chunk, NoteEvent
from coach.core.tutti.fit import fit_of
from coach.core.tutti.mixer import first_mix
from coach.core.tutti.words import fit_sentences
from coach.ports.ensemble.synth import Synthesis
from coach.screen import stage as screen
from tests.core.tutti.simulated import ensemble_of, notes_of, plan_of, take

TUNE = """X:1
T:Evening
M:4/4
L:1/4
Q:1/4=120
V:1 name="Horn"
V:2 name="Violin"
K:C
V:1
CDEF|G2z2|E4|
V:2
c4|c2z2|c4|
"""
PLAY = ["--input", "player", "--fast", "--plain", "--simple-sound", "--takes", "1", "--lead", "0"]


def test_after_a_take_the_ends_are_there_the_last_one_too(tmp_path, monkeypatch, capsys):
    path, told = tmp_path / "evening.abc", []

    def fitted(*given, releases):
        told.append(fit_of(*given, releases=releases))
        return told[-1]

    monkeypatch.setattr(screen, "fit_of", fitted)
    path.write_text(TUNE, "utf-8")
    assert main(["tutti", str(path), "--part", "Horn", "--tempo", "120", "--seed", "2", *PLAY]) == 0
    (fit,) = told
    assert fit.unmeasured == ""
    assert [(one.index, one.voices, one.before) for one in fit.releases] == [
        (4, (1,), "rest"),
        (5, (1,), "end"),
    ]
    assert [one.late_ms for one in fit.releases] == pytest.approx([0, 0], abs=80)


def test_from_midi_a_note_that_is_let_go_too_late_is_told():
    plan = plan_of([*notes_of([60, 62], 2), *notes_of([64], 2, start=8)])
    ensemble = ensemble_of(plan)
    stage = Stage(ensemble, first_mix(ensemble), Synthesis)
    assert stage.releases is None
    ear = stage.releasing(midi_ear)(plan)
    for due in plan.dues:
        late = 14_400 if due.index == 1 else 0
        notes = (
            NoteEvent(due.frame, due.pitch, 80, True),
            NoteEvent(due.frame + due.length_frames + late, due.pitch, 0, False),
        )
        assert len(ear.feed(Chunk(due.frame, 48_000, notes=notes)).attacks) == 1
    ear.finish()
    fit = fit_of(take(plan), plan, ensemble, releases=stage.releases)
    assert [one.late_ms for one in fit.releases] == [300, 0]
    assert fit_sentences(fit)[0] == "Stop where it is written in bar 1."
