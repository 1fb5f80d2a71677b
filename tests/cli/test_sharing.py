"""`coach export`, `import`, `assign`, `return`: from one player's folder to another's."""

from __future__ import annotations

import csv
import datetime
import json
import shutil
from pathlib import Path
from random import Random

import jsonschema
import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.record import book_path
from coach.core.share.cells import NOTE_COLUMNS, TAKE_COLUMNS
from coach.files.configs import data_folder, own_folder
from coach.files.share.lines import read_records
from coach.files.share.schema import schema
from tests.sharing import fill, keep_some, told

DUE = (datetime.date.today() + datetime.timedelta(days=30)).isoformat()


@pytest.fixture
def home(tmp_path, monkeypatch):
    """Goes to another player's own folder, made if need be."""

    def go(name: str) -> Path:
        monkeypatch.setenv("COACH_HOME", str(tmp_path / name))
        (tmp_path / name).mkdir(exist_ok=True)
        return book_path()

    go("here")
    return go


@pytest.fixture
def said(capsys):
    """What a command printed; its exit status is 0."""

    def run(*words: object) -> str:
        capsys.readouterr()
        assert main([str(word) for word in words]) == 0, capsys.readouterr().err
        return " ".join(capsys.readouterr().out.split())

    return run


@pytest.fixture
def refused(capsys):
    """The one sentence that a command gave; its exit status is 2."""

    def run(*words: object) -> str:
        capsys.readouterr()
        assert main([str(word) for word in words]) == 2
        (line,) = capsys.readouterr().err.splitlines()
        return line

    return run


def own_drill(name: str, like: str = "turns") -> Path:
    path = own_folder() / "drills" / f"{name}.toml"
    path.parent.mkdir(exist_ok=True)
    shutil.copy(data_folder("drills") / f"{like}.toml", path)
    return path


def practised(takes: int, seed: int, names: list[str]) -> None:
    with PracticeBook(book_path()) as book:
        keep_some(book, takes, Random(seed), names)


def test_the_whole_record_moves_to_a_fresh_book(home, said, tmp_path):
    out = tmp_path / "all.jsonl"
    here = home("here")
    fill(here)
    own_drill("a")
    assert "8 takes of player" in said("export", out)
    there = home("there")
    assert "new: 8 takes" in said("import", out)
    assert told(there) == told(here)
    assert (own_folder() / "drills" / "a.toml").exists()
    again = said("import", out)
    assert "nothing new" in again
    assert "there already: 8 takes" in again
    assert told(there) == told(here)


def test_every_exported_line_fits_the_schema(home, said, tmp_path):
    fill(home("here"))
    own_drill("a")
    said("export", tmp_path / "all.jsonl")
    judge = jsonschema.Draft202012Validator(schema())
    lines = (tmp_path / "all.jsonl").read_text("utf-8").splitlines()
    for line in lines:
        judge.validate(json.loads(line))
    kinds = [json.loads(line)["record"] for line in lines]
    assert kinds[0] == "header"
    assert set(kinds) == {one["$ref"].rpartition("/")[2] for one in schema()["oneOf"]}


def test_somebody_else_s_record_makes_a_new_player(home, said, refused, tmp_path):
    out = tmp_path / "ida.jsonl"
    fill(home("here"))
    said("player", "player", "--rename", "Ida")
    said("export", out)
    there = home("there")
    fill(there, takes=2, seed=2)
    was = told(there)
    assert "To play as Ida: coach player Ida" in said("import", out)
    assert {**told(there), "passages": 0} == {**was, "passages": 0}
    assert len(told(there, "Ida")["takes"]) == 8
    with PracticeBook(there) as book:
        assert book.player == "player"
    # Another Ida, on another machine.
    fill(home("elsewhere"), takes=3, seed=3)
    said("player", "player", "--rename", "Ida")
    second = tmp_path / "ida-2.jsonl"
    said("export", second)
    home("there")
    assert "--as NAME" in refused("import", second)
    said("import", second, "--as", "Ida C.")
    assert "nothing new" in said("import", second)
    assert len(told(there, "Ida C.")["takes"]) == 3
    assert len(told(there, "Ida")["takes"]) == 8


def test_two_records_of_one_person_are_joined_when_asked_for(home, said, tmp_path):
    out = tmp_path / "one.jsonl"
    fill(home("here"), takes=3)
    said("export", out)
    there = home("there")
    practised(2, 5, ["c"])
    said("player", "player", "--rename", "Ida")
    said("import", out, "--player", "Ida")
    assert len(told(there, "Ida")["takes"]) == 5
    assert "nothing new" in said("import", out, "--player", "Ida")


def test_a_choice_of_drills_and_days(home, said, refused, tmp_path):
    fill(home("here"))
    out = tmp_path / "b.jsonl"
    said("export", out, "--drill", "b")
    kinds = {}
    for _, record in read_records(out):
        kinds.setdefault(record["record"], []).append(record.get("drill"))
    assert set(kinds["take"]) == {"b"}
    assert "elsewhere" not in kinds
    assert "0 takes" in said("export", out, "--since", "2999-01-01", "--replace")
    assert 'nothing of "zz" was kept' in refused("export", out, "--drill", "zz", "--replace")
    assert "is no date" in refused("export", out, "--since", "soon", "--replace")


@pytest.mark.parametrize("notes", [False, True])
def test_a_table_is_read_back_by_the_csv_module(home, said, tmp_path, notes):
    fill(home("here"))
    said("player", "player", "--rename", "=Ida")
    out = tmp_path / "takes.csv"
    said("export", out, *["--notes"] * notes)
    with out.open(encoding="utf-8-sig", newline="") as file:
        heading, *rows = csv.reader(file)
    assert tuple(heading) == (NOTE_COLUMNS if notes else TAKE_COLUMNS)
    with PracticeBook(book_path()) as book:
        kept = book.take_rows()
        takes = book.takes()
    found = [dict(zip(heading, row, strict=True)) for row in rows]
    assert all(one["player"] == "'=Ida" for one in found)
    if not notes:
        for one, row in zip(found, kept, strict=True):
            assert one["take"] == row.uid
            assert float(one["tempo_bpm"]) == row.tempo_bpm
            assert (int(one["clean_notes"]), int(one["judged_notes"])) == (row.clean, row.counted)
            assert int(one["passed"]) == row.passed
        # Numbers may begin with a minus: they are numbers.
        assert any(one["tuning_cents"].startswith("-") for one in found)
        return
    assert len(found) == sum(len(take.plan.dues) for take in takes)
    assert [int(one["expected_midi"]) for one in found[:12]] == [
        d.pitch for d in takes[0].plan.dues
    ]
    assert {one["verdict"] for one in found} >= {"clean", "missed", "late"}
    assert all(float(one["deviation_ms"] or 0) < 1000 for one in found)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["x.txt"], 'the ending ".txt" is unknown; use .jsonl or .csv'),
        (["x.jsonl", "--notes"], "--notes is for .csv"),
        (["x.jsonl", "--player", "nobody"], 'no player "nobody"'),
        (["no/x.jsonl"], "can't be written"),
    ],
)
def test_exports_that_can_t_be(home, refused, tmp_path, monkeypatch, words, sentence):
    monkeypatch.chdir(tmp_path)
    fill(home("here"), takes=1)
    assert sentence in refused("export", *words)
    assert not (tmp_path / "x.jsonl").exists()


def test_a_file_that_is_there_is_not_written_over(home, said, refused, tmp_path):
    fill(home("here"), takes=1)
    out = tmp_path / "x.csv"
    out.write_text("mine")
    assert "there is a file already" in refused("export", out)
    assert out.read_text() == "mine"
    said("export", out, "--replace")
    assert out.read_text() != "mine"


def test_a_bad_line_changes_nothing(home, said, refused, tmp_path):
    fill(home("here"))
    own_drill("a")
    out = tmp_path / "all.jsonl"
    said("export", out)
    lines = out.read_text("utf-8").splitlines()
    out.write_text("\n".join([*lines[:-3], '{"record": "take"}', *lines[-3:]]), "utf-8")
    there = home("there")
    PracticeBook(there).close()
    was = told(there)
    assert f"line {len(lines) - 2}: has no uid" in refused("import", out)
    assert told(there) == was
    assert not (own_folder() / "drills").exists()


def test_import_before_anything_was_played_makes_no_mess(home, refused, tmp_path):
    home("there")
    assert "can't be read" in refused("import", tmp_path / "none.jsonl")
    assert not book_path().exists()
    assert "--as is for a new player" in refused("import", "x", "--as", "A", "--player", "B")


def assigned(home, said, tmp_path, *more: str) -> Path:
    """A teacher's assignment: a drill of her own, a shipped one."""
    home("teacher")
    own_drill("mine")
    out = tmp_path / "set.jsonl"
    words = ("mine=100", "thirds", "--by", DUE, "--title", "For Friday", "--words", "Slowly.")
    text = said("assign", out, *words, "--teacher", "The teacher", "--replace", *more)
    assert "mine is to go at 100" in text
    return out


def test_from_a_teacher_to_a_student_and_back(home, said, tmp_path):
    file = assigned(home, said, tmp_path)
    back, first = tmp_path / "back.jsonl", home("student")
    said("player", "Ida", "--new")
    text = said("import", file)
    assert "For Friday from The teacher, for Ida Slowly. mine is to go at 100" in text
    assert "new drills: mine" in text
    assert "coach today" in text
    with PracticeBook(first) as book:
        (assignment,) = book.diary.assignments()
        assert {(g.drill, g.goal_bpm) for g in assignment.goals} == {("mine", 100), ("thirds", 120)}
        assert {g.due_day for g in assignment.goals} == {
            datetime.date.fromisoformat(DUE).toordinal()
        }
        assert book.diary.goals() == sorted(assignment.goals, key=lambda goal: goal.drill)
    assert "nothing is changed" in said("import", file)

    practised(4, 1, ["mine", "thirds", "mine-build", "secret"])
    assert "3 takes for For Friday" in said("return", back)
    practised(2, 2, ["mine"])
    kept = told(first, "Ida")
    assert "5 takes" in said("return", back, "--replace", "--assignment", "for friday")
    assert {r.get("drill") for _, r in read_records(back)} == {None, "mine", "thirds", "mine-build"}

    teacher = home("teacher")
    text = said("import", back)
    assert "Ida: new: 5 takes" in text
    assert "coach review --player Ida" in text
    assert "Turns through the scale" in said("review", "--player", "Ida")
    mine = told(teacher, "Ida")
    assert mine["takes"] == [take for take in kept["takes"] if take[5] != "secret"]
    assert mine["goals"] == kept["goals"]
    assert mine["assignments"] == kept["assignments"]
    assert "nothing new" in said("import", back)
    assert told(teacher, "Ida") == mine
    with PracticeBook(teacher) as book:
        assert book.player == "player"

    # A second student of the same name.
    home("second")
    said("player", "Ida", "--new")
    said("import", file)
    practised(1, 7, ["mine"])
    said("return", back, "--replace")
    home("teacher")
    said("import", back, "--as", "Ida the second")
    assert told(teacher, "Ida") == {**mine, "passages": told(teacher, "Ida")["passages"]}
    assert len(told(teacher, "Ida the second")["takes"]) == 1


def test_what_a_nameless_student_returns_never_becomes_the_teacher_s(home, said, refused, tmp_path):
    file, back = assigned(home, said, tmp_path), tmp_path / "back.jsonl"
    home("student")
    said("import", file)
    assert "You have no name yet" in said("return", back)
    home("other teacher")
    assert "--as NAME" in refused("import", back)
    said("import", back, "--as", "The one from Monday")


def test_a_student_s_own_drill_of_that_name_stays(home, said, tmp_path):
    file = assigned(home, said, tmp_path)
    home("student")
    own = own_drill("mine", like="fourths")
    was = own.read_text("utf-8")
    assert "the one of the file is mine-2" in said("import", file)
    assert own.read_text("utf-8") == was
    assert "mine-2 is to go at 100" in said("goal")


def test_an_assignment_out_of_a_score(home, said, tmp_path):
    score, out = tmp_path / "March, 2nd part.abc", tmp_path / "set.jsonl"
    score.write_text("X:1\nT:March\nM:4/4\nL:1/8\nQ:1/4=120\nK:C\n" + "cdef gabc'|" * 4 + "\n")
    home("teacher")
    said("assign", out, f"{score}=96", "--bars", "2-3", "--instrument", "trumpet")
    home("student")
    text = said("import", out)
    (name,) = [path.stem for path in (own_folder() / "drills").glob("*.toml")]
    assert name.endswith("bars-2-3")
    assert f"{name} is to go at 96 (trumpet)" in text


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["turnz"], 'no drill "turnz"'),
        (["turns=5000"], "is out of range"),
        (["turns=x"], 'turns=x: "x" is no tempo; write e.g. turns=112.'),
        (["turnz=x"], 'no drill "turnz=x"'),
        (["turns", "turns=90"], "turns is set twice"),
        (["turns", "--by", "2001-01-01"], "is over"),
        (["turns", "--instrument", "kazoo"], 'no instrument "kazoo"'),
        (["turns", "--teacher", "x" * 600], "teacher has 600 letters"),
        (["My drill.toml"], "is no name for a drill file"),
    ],
)
def test_assignments_that_can_t_be(home, refused, tmp_path, monkeypatch, words, sentence):
    monkeypatch.chdir(tmp_path)
    shutil.copy(data_folder("drills") / "turns.toml", tmp_path / "My drill.toml")
    assert sentence in refused("assign", "set.jsonl", *words)
    assert not (tmp_path / "set.jsonl").exists()


def test_only_takes_since_it_came_are_returned(home, said, tmp_path):
    file, back = assigned(home, said, tmp_path), tmp_path / "back.jsonl"
    first = home("student")
    practised(2, 1, ["mine"])
    with PracticeBook(first) as book:
        book.rewrite(lambda db: db.execute("UPDATE takes SET day = day - 3 WHERE id = 1"))
        day = datetime.date.fromordinal(book.today() - 3)
    said("import", file)
    assert "1 take for" in said("return", back)
    assert "2 takes" in said("return", back, "--since", day, "--replace")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('"rules":"normal"', '"rules":"cruel"', 'no rule set "cruel"'),
        ('"instruments":["double-horn"]', '"instruments":["kazoo"]', 'no instrument "kazoo"'),
        ('"chosen":null', '"chosen":"kazoo"', 'no instrument "kazoo"'),
        ('"name":"player"', '"name":"\\u202e"', "can't be a player's name"),
    ],
)
def test_what_is_not_known_here_is_refused(home, said, refused, tmp_path, old, new, sentence):
    """What later commands could do nothing with."""
    fill(home("here"), takes=1)
    out = tmp_path / "all.jsonl"
    said("export", out)
    text = out.read_text("utf-8")
    assert old in text
    out.write_text(text.replace(old, new), "utf-8")
    home("there")
    assert sentence in refused("import", out)


def test_returns_that_can_t_be(home, said, refused, tmp_path):
    fill(home("here"), takes=1)
    out = tmp_path / "x.jsonl"
    assert 'there is no assignment "zz"; there are: "For you"' in refused(
        "return", out, "--assignment", "zz"
    )
    # A goal given up, or another one of one's own: the drill was set all the same.
    said("goal", "b", "--drop")
    assert f"Written: {out}, 0 takes for For you" in said("return", out)
    assert '"record":"assignment"' in out.read_text("utf-8")
    home("there")
    PracticeBook(book_path()).close()
    assert "there is no assignment" in refused("return", out, "--replace")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda lines: lines[:-1], "nothing is set"),
        (lambda lines: [*lines, lines[-1]], "holds no assignment here"),
        (lambda lines: [lines[0], lines[-1]], "a drill of it is not there"),
        (lambda lines: [*lines, '{"record": "session"}'], "has no started_utc"),
        (lambda lines: [line.replace(DUE, "2027-02-30") for line in lines], "can't be taken in"),
        (
            lambda lines: [line.replace("[tempo]", "[tempi]") for line in lines],
            "tempo.from is missing",
        ),
        (
            lambda lines: [
                line.replace('"purpose":"assignment"', '"purpose":"export"') for line in lines
            ],
            "names no player",
        ),
    ],
)
def test_a_spoiled_assignment_changes_nothing(home, said, refused, tmp_path, change, sentence):
    file = assigned(home, said, tmp_path)
    lines = file.read_text("utf-8").splitlines()
    there = home("student")
    PracticeBook(there).close()
    file.write_text("\n".join(change(lines)), "utf-8")
    assert sentence in refused("import", file)
    assert not told(there)["goals"]
    assert not (own_folder() / "drills").exists()
