"""`coach tutti --players` with invented players: who sits where, and how they were together."""

from __future__ import annotations

import json
from types import SimpleNamespace

import mido
import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.record import book_path
from tests.cli.test_tutti import HORN, TICKS, track

PLAY = ["--input", "player", "--fast", "--plain", "--seed", "3", "--simple-sound", "--tempo", "60"]


@pytest.fixture
def score(tmp_path):
    """A bar of rest, then a bar in which three horns run together."""
    made = mido.MidiFile(ticks_per_beat=TICKS)
    made.tracks.append(track("Oboe", 68, [[72, 71]] * 2))
    for number in range(3):
        run = [pitch - 3 * number for pitch in HORN]
        made.tracks.append(track(f"Horn {number + 1}", 60, [[], run]))
    made.tracks.append(track("Bass", 43, [[36]] * 2))
    made.save(tmp_path / "runs.mid")
    return tmp_path / "runs.mid"


def played(score, tmp_path, *options: str) -> list[dict]:
    events = tmp_path / "events.jsonl"
    words = ["--part", "Horn 1", "--bars", "2", "--lead", "1", "--takes", "1", *options]
    assert main(["tutti", str(score), *words, *PLAY, "--events", str(events)]) == 0
    return [json.loads(line) for line in events.read_text("utf-8").splitlines()]


def of_kind(events: list[dict], kind: str) -> list[dict]:
    return [event for event in events if event["event"] == kind]


def test_the_part_asked_for_and_the_next_ones_play(score, tmp_path, capsys):
    events = played(score, tmp_path, "--players", "3")
    (section,) = of_kind(events, "section")
    assert section["players"] == ["Horn 1", "Horn 2", "Horn 3"]
    assert len(section["meetings"]) > 4
    told = capsys.readouterr().out
    assert "First and last attack of a beat lie" in told
    assert "Horn 1 100 %, Horn 2 100 %, Horn 3 100 %: all pass (90 %)." in told
    with PracticeBook(book_path()) as book:
        (row,) = book.take_rows()
    assert row.drill == "runs-horn-1-bars-2-tutti"


def test_seats_name_the_parts(score, tmp_path, capsys):
    events = played(score, tmp_path, "--seat", "Horn 3=player", "--seat", "Horn 2=player")
    (section,) = of_kind(events, "section")
    assert section["players"] == ["Horn 3", "Horn 2"]
    (start,) = of_kind(events, "take_start")
    assert [note["midi"] for note in start["expected"]] == [pitch - 6 for pitch in HORN]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--players", "9"], "--players 9 is out of range"),
        (["--players", "5"], "there are 4 parts from this one on, not 5"),
        (["--players", "3", "--seat", "Horn 1=mic:1"], "1 seats for 3 players"),
        (["--seat", "Horn 1=mic:1"], "one seat makes no section"),
        (["--seat", "Horn 1", "--seat", "Horn 2"], "--seat Horn 1 is no seat"),
        (["--seat", "Horn 1=ear:1", "--seat", "Horn 2=mic:2"], "--seat Horn 1=ear:1 is no seat"),
        (["--seat", "Horn 1=mic", "--seat", "Horn 2=mic:2"], "names no channel"),
        (["--seat", "Horn 1=mic:2", "--seat", "Horn 2=mic:2"], "two players sit at mic:2"),
        (["--seat", "Horn 1=mic:2", "--seat", "Horn 2=player"], "simulated players have no place"),
        (["--seat", "Horn 7=mic:2", "--seat", "Horn 2=mic:1"], "Horn 7"),
    ],
)
def test_what_can_not_be_is_one_sentence(score, capsys, options, said):
    words = ["--part", "Horn 1", "--bars", "2", "--simple-sound"]
    assert main(["tutti", str(score), *words, *options]) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 1
    assert said in told[0]


def test_as_many_midi_inputs_as_players_are_taken_in_their_order(score, monkeypatch):
    from coach.cli import seating
    from coach.errors import CoachError
    from coach.files.scorefile import read_score
    from coach.ports import devices

    inputs = ["Keys A", "Keys B"]
    monkeypatch.setattr(
        devices, "list_midi", lambda *_: [SimpleNamespace(name=name) for name in inputs]
    )
    asked = SimpleNamespace(seat=None, players=2, part="Horn 2", input="midi")
    read = read_score(score)
    places = seating.seated(asked, read)
    assert [(place.kind, place.where) for place in places] == [("midi", n) for n in inputs]
    assert [read.parts[int(place.part) - 1].name for place in places] == ["Horn 2", "Horn 3"]
    inputs.append("Keys C")
    with pytest.raises(CoachError, match="2 players need 2 MIDI inputs, there are 3"):
        seating.seated(asked, read)


def test_the_measured_delay_of_an_instrument_is_used(monkeypatch):
    from coach.cli.stage import _delay_ms
    from coach.files.calibration import Calibration, store_delay
    from coach.ports import midi

    monkeypatch.setattr(midi, "choose_midi", lambda *_: SimpleNamespace(name="Box"))
    asked = SimpleNamespace(ensemble_midi="", ensemble_delay=None)
    assert _delay_ms(asked) == 0
    store_delay("Box", Calibration(0.034, 0.5, 48_000))
    assert _delay_ms(asked) == pytest.approx(34)
    assert _delay_ms(SimpleNamespace(ensemble_midi="", ensemble_delay=5.0)) == 5
    assert _delay_ms(SimpleNamespace(ensemble_midi=None, ensemble_delay=None)) == 0
