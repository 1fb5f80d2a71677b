"""Takes are kept with their sound, within the room that there is for it."""

from __future__ import annotations

import errno
import os

import numpy as np
import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.keeping import Keeper
from coach.cli.soundkeeping import drop_sounds, own_sounds
from coach.core.exercise import Drill
from coach.core.judge import judge_take
from coach.core.rules import Rules
from coach.core.sound import Sound
from coach.core.take import Take
from coach.errors import CoachError
from coach.files.bookconfig import SoundKeeping
from coach.files.configs import load_instrument, own_folder
from tests.making import RATE, attacks_of, plan_of, scale

PLAY = ["--input", "player", "--fast", "--plain", "--seed", "3"]


def rows():
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        return book.take_rows()


def test_a_drill_keeps_the_sound_of_each_take(capsys):
    assert main(["drill", "turns", "--takes", "1", *PLAY]) == 0
    sounds = own_sounds()
    assert set(sounds.sizes()) == {row.uid for row in rows()}
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        kept = book.kept(rows()[-1].uid)
    sound = sounds.read(kept.uid, kept.take.plan.start_frame)
    assert sound.rate == kept.take.plan.rate
    assert sound.end_frame >= kept.take.plan.end_frame
    # It sounds where attacks were heard, and not in the count-in.
    samples = np.abs(np.asarray(sound.samples))
    quiet = samples[: kept.take.attacks[0].frame - sound.frame - RATE // 50].max()
    for attack in kept.take.attacks:
        at = attack.frame - sound.frame
        assert samples[at : at + RATE // 20].max() > 5 * quiet


def test_no_sound_where_none_is_wanted(capsys):
    assert main(["drill", "turns", "--takes", "1", "--no-sound", *PLAY]) == 0
    assert len(rows()) == 1
    assert own_sounds().sizes() == {}
    for command in ("warmup", "build", "trial"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        assert "--no-sound" in capsys.readouterr().out


@pytest.fixture
def keeping(monkeypatch):
    """Keeps takes with a sound of a third of a megabyte; a megabyte is there for them."""
    monkeypatch.setattr(
        "coach.files.bookconfig.load_sound_keeping", lambda: SoundKeeping(True, 1_000_000)
    )
    noise = np.random.default_rng(5).uniform(-1, 1, 150_000).astype(np.float32)
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        keeper = Keeper(book, load_instrument("double-horn"), lambda: Sound(0, RATE, noise))
        yield book, keeper


def play(keeper, drill="scales", accuracy_of_all=True, number=1):
    plan = plan_of(scale())
    attacks = attacks_of(plan, None if accuracy_of_all else {3: 4_000})
    take = Take(number, plan, tuple(attacks), (), False)
    report = judge_take(take, Rules())
    keeper.append(take, report, Drill(drill, "Scales", "", (plan.exercise.passage,)))


def test_the_oldest_go_but_not_the_last_and_the_best(keeping):
    book, keeper = keeping
    play(keeper)
    for _ in range(6):
        play(keeper, accuracy_of_all=False)
    play(keeper, "thirds")
    kept = own_sounds().sizes()
    assert sum(kept.values()) <= 1_000_000
    numbers = {row.uid: row.id for row in book.take_rows()}
    assert {numbers[uid] for uid in kept} == {1, 7, 8}


def test_sounds_without_a_take_go(keeping):
    _, keeper = keeping
    stray = "ab" * 16
    own_sounds().keep(stray, Sound(0, RATE, np.zeros(480, np.float32)))
    play(keeper)
    assert stray not in own_sounds().sizes()
    assert len(own_sounds().sizes()) == 1


def test_a_mended_book_costs_no_sound(keeping):
    book, keeper = keeping
    stray = "ab" * 16
    own_sounds().keep(stray, Sound(0, RATE, np.zeros(480, np.float32)))
    book.remarks = ("The book was damaged.",)
    play(keeper)
    assert stray in own_sounds().sizes()


def test_a_full_disk_is_told_once_and_the_take_is_in_the_book(keeping, monkeypatch):
    book, keeper = keeping

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    told = r"can't be kept: .*no space left.* are in the book\.$"
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(CoachError, match=told):
            play(keeper)
        play(keeper)
    assert len(book.take_rows()) == 2
    play(keeper)
    assert set(own_sounds().sizes()) == {book.take_rows()[-1].uid}


def test_the_sounds_of_a_player_who_goes(keeping):
    book, keeper = keeping
    play(keeper)
    play(keeper)
    first, last = (row.uid for row in book.take_rows())
    drop_sounds([first, "cd" * 16])
    assert set(own_sounds().sizes()) == {last}
