"""Drill files: every shipped one, every kind of mistake, and files that were damaged."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.core.exercise import CLICK_SOUNDS, ClickStyle, Exercise
from coach.core.gate import Gate
from coach.core.pitch import midi_of_name
from coach.core.timeline import plan_take
from coach.errors import CoachError, FileError
from coach.files import configs
from coach.files.drillshelf import find_drill, list_drills, load_drill
from coach.ports.click import SOUNDS

SHIPPED = sorted(configs.data_folder("drills").glob("*.toml"))
NAMES = sorted(path.stem for path in SHIPPED)
GOOD = """
title = "Invented"
about = "For tests."
rest_beats = 4

[passage]
kind = "scale"
keys = ["C", "Bb"]
mode = "major"
from = "G3"
octaves = 1
note_value = "1/16"

[tempo]
from = 60
to = 120

[gate]
threshold = 0.9

[click]
level_db = -12
"""


@pytest.fixture
def drill_at(tmp_path):
    """Writes a drill and loads it."""

    def write_and_load(text: str, **more):
        path = tmp_path / "odd.toml"
        path.write_text(text, encoding="utf-8")
        return load_drill(path, **more)

    return write_and_load


def with_passage(passage: str) -> str:
    return f"[passage]\n{passage}\n[tempo]\nfrom = 60\nto = 120\n"


def written(passage, instrument):
    return [note.pitch - instrument.transposition for note in passage.notes]


def midis(names: str) -> list[int]:
    return [midi_of_name(name) for name in names.split()]


# -- the shipped drills ---------------------------------------------------------------------------


def test_there_are_enough():
    assert len(NAMES) >= 14
    assert [row.name for row in list_drills()] == NAMES
    assert [row.problem for row in list_drills()] == [""] * len(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_shipped_drill(name):
    drill, instrument = load_drill(name)
    assert drill.name == name
    assert drill.title
    assert drill.about.endswith(".")
    assert 10 <= drill.from_bpm <= drill.to_bpm
    assert drill.rules in configs.rules_names()
    for passage in drill.variants:
        assert all(instrument.reaches(note.pitch) for note in passage.notes)
        assert (passage.length_beats / passage.pulse_beats).denominator == 1
        # The last note ends on a click, and none is longer.
        assert (passage.end_beats / passage.pulse_beats).denominator == 1
        assert passage.notes[-1].length_beats == max(n.length_beats for n in passage.notes)
        assert not passage.notes[0].slurred
        assert abs(passage.fifths) <= 6


@pytest.mark.parametrize("name", NAMES)
def test_shipped_drill_can_be_followed_by_ear(name):
    """Notes of 60 ms are the design's limit (skilled players double-tongue 11 to 15 a second)."""
    drill, _ = load_drill(name)
    for passage in drill.variants:
        plan = plan_take(Exercise(passage, drill.to_bpm), 48_000, 96_000)
        starts = [due.frame for due in plan.dues]
        assert min(b - a for a, b in itertools.pairwise(starts)) >= 0.06 * 48_000


@pytest.mark.parametrize("instrument", configs.instrument_names())
def test_every_instrument_has_drills(instrument):
    player = configs.load_instrument(instrument)
    playable, refusals = 0, []
    for name in NAMES:
        try:
            drill, found = load_drill(name, instrument=instrument)
        except FileError as error:
            refusals.append(str(error))
            continue
        playable += 1
        assert found == player
        assert drill.instrument == instrument
        assert all(player.reaches(n.pitch) for v in drill.variants for n in v.notes)
    assert playable >= 14
    assert all("this drill is not for" in refusal for refusal in refusals)


def test_scales_in_all_keys():
    drill, horn = load_drill("scales-one-octave")
    assert [passage.title.split()[0] for passage in drill.variants] == (
        ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]
    )
    # B-flat major, two flats (any theory book), written and sounding a fifth lower on the horn.
    flat = drill.variants[2]
    assert flat.fifths == -2
    assert written(flat, horn)[:8] == midis("Bb3 C4 D4 Eb4 F4 G4 A4 Bb4")
    assert [n.pitch for n in flat.notes[:8]] == midis("Eb3 F3 G3 Ab3 Bb3 C4 D4 Eb4")


def test_lip_slurs_keep_to_one_tube():
    drill, horn = load_drill("lip-slurs-open-side")
    opened = drill.variants[0]
    # Partials 4, 5, 6, 8 of the open F side: written C4, E4, G4, C5 (maker's fingering chart).
    assert set(written(opened, horn)) == set(midis("C4 E4 G4 C5"))
    assert {n.fingering for n in opened.notes} == {"0"}
    assert [n.slurred for n in opened.notes] == [False] + [True] * 14
    thumb, _ = load_drill("lip-slurs-thumb-side")
    # Partials 3 to 8 of the open B-flat side: written C4, F4, A4, C5, F5 (the same chart).
    assert set(written(thumb.variants[0], horn)) == set(midis("C4 F4 A4 C5 F5"))


def test_other_instruments_read_the_written_notes():
    horn_drill, horn = load_drill("thirds")
    trumpet_drill, trumpet = load_drill("thirds", instrument="trumpet")
    for ours, theirs in zip(horn_drill.variants, trumpet_drill.variants, strict=True):
        moved = written(theirs, trumpet)[0] - written(ours, horn)[0]
        assert moved % 12 == 0
        assert [p + moved for p in written(ours, horn)] == written(theirs, trumpet)
    with pytest.raises(FileError, match=r"not for the trumpet in B-flat; it is for double-horn"):
        load_drill("lip-slurs-thumb-side", instrument="trumpet")
    with pytest.raises(FileError, match='there is no instrument "kazoo"'):
        load_drill("thirds", instrument="kazoo")


def test_fingerings_stay_with_their_instrument():
    horn, _ = load_drill("written-out")
    trumpet, _ = load_drill("written-out", instrument="trumpet")
    cornet, _ = load_drill("lip-slurs-three-valves", instrument="cornet")
    assert horn.variants[0].notes[0].fingering == "1"
    assert {n.fingering for n in trumpet.variants[0].notes} == {None}
    assert {n.fingering for v in cornet.variants for n in v.notes} > {"0", "123"}


# -- what the keys mean ---------------------------------------------------------------------------


def test_defaults(drill_at):
    drill, instrument = drill_at(with_passage('notes = ["G4 1/4"]'))
    assert (drill.name, drill.title, drill.rules, drill.rest_beats) == ("odd", "odd", "normal", 8)
    assert (instrument.name, drill.click) == ("double-horn", ClickStyle())
    assert drill.gate == Gate(rule="ceiling")
    easy, _ = drill_at('rules = "easy"\n' + with_passage('notes = ["G4 1/4"]'))
    assert easy.gate.threshold == configs.load_rules("easy").pass_share


def test_notes_in_words(drill_at):
    drill, horn = drill_at(
        with_passage(
            'key = "F"\nmeter = "6/8"\n'
            'notes = ["G4 1/8", "A4 1/8 slur", "rest 1/4", "Bb4 1/16 ta T1", "C5 3/16 T0 ka"]'
        )
    )
    (passage,) = drill.variants
    assert (passage.bar_beats, passage.pulse_beats, passage.fifths) == (3, Fraction(3, 2), -1)
    assert written(passage, horn) == midis("G4 A4 Bb4 C5")
    assert [n.start_beats for n in passage.notes] == [0, Fraction(1, 2), 2, Fraction(9, 4)]
    assert [n.length_beats for n in passage.notes] == [Fraction(x, 4) for x in (2, 2, 1, 3)]
    assert [n.slurred for n in passage.notes] == [False, True, False, False]
    assert [n.syllable for n in passage.notes] == [None, None, "ta", "ka"]
    assert [n.fingering for n in passage.notes] == [None, None, "T1", "T0"]


@pytest.mark.parametrize(
    ("passage", "first", "count"),
    [
        (
            'kind = "scale"\nkeys = ["C"]\nfrom = "C4"\ndirection = "up"',
            "C4 D4 E4 F4 G4 A4 B4 C5",
            8,
        ),
        ('kind = "chord"\nkeys = ["C"]\nfrom = "C4"\ngroup = 3', "C4 E4 G4 E4", 12),
        ('kind = "intervals"\ninterval = 4\nkeys = ["C"]\nfrom = "C4"', "C4 F4 D4 G4", 29),
        ('kind = "turns"\nkeys = ["C"]\nfrom = "C4"', "C4 D4 C4 B3 D4", 57),
        ('kind = "figure"\nshape = [1, 3, 2]\nkeys = ["C"]\nfrom = "C4"', "C4 E4 D4 D4 F4", 42),
        ('kind = "growing"\nkeys = ["C"]\nfrom = "C4"', "C4 D4 C4 E4", 15),
        ('kind = "repeated"\ntimes = 3\nkeys = ["C"]\nfrom = "C4"', "C4 C4 C4 D4", 43),
        ('kind = "chromatic"\nfrom = "C4"\nsemitones = 3', "C4 C#4 D4 Eb4 D4 C#4 C4", 7),
        ('kind = "long_tones"\nfrom = "C4"\nsteps = [0, -1, 1]', "C4 B3 C#4", 3),
        ('kind = "one_note"\nnote = "G4"\ncount = 9', "G4 G4", 9),
        (
            'kind = "partials"\nfundamentals = ["C2"]\nfingerings = ["0"]\npartials = [4, 6]',
            "C4 G4",
            2,
        ),
        ('kind = "sequence"\nfigure = ["C4 1/8", "D4 1/8"]\nmoves = [0, 5]', "C4 D4 F4 G4", 4),
    ],
)
def test_kinds(drill_at, passage, first, count):
    drill, horn = drill_at(with_passage(passage))
    pitches = written(drill.variants[0], horn)
    assert pitches[: len(first.split())] == midis(first)
    assert len(pitches) == count


def test_all_seventh_chords_in_all_keys(drill_at):
    for mode in ("major", "minor", "dominant_seventh", "diminished_seventh"):
        drill, _ = drill_at(
            with_passage(f'kind = "chord"\nmode = "{mode}"\nkeys = "all"\nfrom = "G3"')
        )
        assert len({passage.notes[0].pitch for passage in drill.variants}) == 12


def test_long_tones_rest_between(drill_at):
    drill, _ = drill_at(
        with_passage(
            'kind = "long_tones"\nfrom = "C4"\nsteps = [0, 2]\nnote_value = "1/1"\nrest = "1/2"'
        )
    )
    assert [n.start_beats for n in drill.variants[0].notes] == [0, 6]


def test_moved_variants(drill_at):
    drill, horn = drill_at(with_passage('notes = ["G4 1/4 0"]\nmoved_by = [0, 5]'))
    assert [written(v, horn) for v in drill.variants] == [midis("G4"), midis("C5")]
    assert [v.notes[0].fingering for v in drill.variants] == ["0", None]


def test_every_click_sound_can_be_made():
    assert set(CLICK_SOUNDS) == set(SOUNDS)


# -- mistakes: the message names file, key and value ----------------------------------------------

BAD_EDITS = [
    ("from = 60", "from = -3", "tempo.from is -3; it must be a number from 10 to 400"),
    ("from = 60", "from = 0", "tempo.from is 0; it must be"),
    ("from = 60", "from = 130", "tempo.from is 130; it must be no more than tempo.to, 120"),
    ("from = 60", 'from = "60"', 'tempo.from is "60"; it must be a number'),
    ("from = 60", "from = true", "tempo.from is true; it must be a number"),
    ("from = 60", "from = nan", "tempo.from is nan; it must be a number"),
    ("from = 60", "from = inf", "tempo.from is inf; it must be a number"),
    ("from = 60", "from = 0x" + "f" * 9000, "tempo.from is far too large; it must be"),
    ("from = 60", "", "tempo.from is missing; it must be a number"),
    ("to = 120", "to = 1000", "tempo.to is 1000; it must be a number from 10 to 400"),
    ("to = 120", "too = 120", "tempo.to is missing"),
    (
        "threshold = 0.9",
        "threshold = 90",
        "gate.threshold is 90; it must be a number from 0.5 to 1",
    ),
    ("threshold = 0.9", "treshold = 0.9", "gate.treshold = 0.9; did you mean threshold?"),
    ("threshold = 0.9", "passes = 1.5", "gate.passes is 1.5; it must be a whole number"),
    ("threshold = 0.9", "step_percent = 0", "gate.step_percent is 0; it must be"),
    ("threshold = 0.9", "back_after = 0", "gate.back_after is 0; it must be"),
    ("level_db = -12", "level_db = 6", "click.level_db is 6; it must be a number from -60 to -3"),
    ("level_db = -12", 'sound = "wod"', 'click.sound is "wod"; it must be one of wood, bell, tick'),
    ("level_db = -12", "accent = 1", "click.accent is 1; it must be true or false"),
    ("level_db = -12", "off_bars = [1]", "click.off_bars is [1]; it must be two numbers"),
    ("level_db = -12", "off_bars = [1, 0]", "click.off_bars is [1, 0]; it must be a list of whole"),
    ("level_db = -12", "count_in_bars = 0", "click.count_in_bars is 0; it must be"),
    ("level_db = -12", "subdivision = 99", "click.subdivision is 99; it must be"),
    ('title = "Invented"', "title = 3", "title is 3; it must be text in quotes"),
    ('title = "Invented"', 'titel = "x"', 'unknown key titel = "x"; did you mean title?'),
    ('title = "Invented"', 'rules = "hard"', 'rules is "hard"; it must be one of normal, easy'),
    (
        'title = "Invented"',
        'instrument = "kazoo"',
        'instrument is "kazoo"; it must be one of cornet',
    ),
    ('title = "Invented"', 'only_for = ["kazoo"]', 'only_for, entry 1, is "kazoo"; it must be one'),
    ('title = "Invented"', 'cautions = "rest"', 'cautions is "rest"; it must be a list of texts'),
    ('title = "Invented"', 'title = "x"\n"a\\nb" = 1', "unknown key a\\nb = 1; there are"),
    ('title = "Invented"', 'rules = "a\\nb"', 'rules is "a\\nb"; it must be'),
    ("rest_beats = 4", "rest_beats = -1", "rest_beats is -1; it must be"),
    ("[gate]\nthreshold = 0.9", "", None),
    ("[tempo]", "[temp]", "tempo.from is missing"),
    ("[click]\nlevel_db = -12", "", None),
    (
        'kind = "scale"',
        'kind = "scal"',
        'passage.kind is "scal"; it must be a known one; did you mean',
    ),
    ('kind = "scale"', "", "passage needs either a kind or notes; kinds: chord, chromatic"),
    (
        'kind = "scale"',
        'kind = "scale"\nnotes = ["G4 1/4"]',
        "passage needs either a kind or notes",
    ),
    (
        'kind = "scale"',
        'kind = "intervals"\ninterval = 9',
        "passage.interval is 9; it must be a whole",
    ),
    ('keys = ["C", "Bb"]', 'keys = ["C", "H"]', 'passage.keys, entry 2, is "H"; it must be a key'),
    ('keys = ["C", "Bb"]', "keys = []", 'passage.keys is []; it must be "all" or a list of keys'),
    ('keys = ["C", "Bb"]', 'keys = "C"', 'passage.keys is "C"; it must be "all" or a list'),
    ('mode = "major"', 'mode = "blue"', 'passage.mode is "blue"; it must be one of major, minor'),
    ('from = "G3"', 'from = "H3"', 'passage.from is "H3"; it must be a written note'),
    ('from = "G3"', "from = 55", "passage.from is 55; it must be a written note"),
    ('from = "G3"', 'from = "G6"', "note 1 of C major is C7, which the double horn lacks; written"),
    ('from = "G3"', 'from = "G0"', "note 1 of C major is C1, which the double horn lacks"),
    ("octaves = 1", "octaves = 10000000", "passage.octaves is 10000000; it must be a whole number"),
    ("octaves = 1", "octave = 1", "unknown key passage.octave = 1; did you mean octaves?"),
    ("octaves = 1", 'direction = "left"', 'passage.direction is "left"; it must be one of up-down'),
    ("octaves = 1", 'meter = "4/5"', 'passage.meter is "4/5"; it must be a meter'),
    ("octaves = 1", 'meter = "0/4"', 'passage.meter is "0/4"; it must be a meter'),
    ("octaves = 1", 'ending = "fade"', 'passage.ending is "fade"; it must be one of hold, rest'),
    ("octaves = 1", "slurred = 0", "passage.slurred is 0; it must be a whole number from 1"),
    ("octaves = 1", 'slurred = "yes"', 'passage.slurred is "yes"; it must be'),
    (
        "octaves = 1",
        'syllables = ["T4"]',
        'passage.syllables, entry 1, is "T4"; it must be one to six',
    ),
    ("octaves = 1", 'rhythm = ["1/4"]', "passage.rhythm is ['1/4']; it must be left out where"),
    (
        'note_value = "1/16"',
        'note_value = "1/0"',
        'passage.note_value is "1/0"; it must be a fraction',
    ),
    ('note_value = "1/16"', 'note_value = "-1/8"', 'passage.note_value is "-1/8"; it must be'),
    ('note_value = "1/16"', "note_value = 16", "passage.note_value is 16; it must be text"),
    ('note_value = "1/16"', 'note_value = "1/1900"', 'passage.note_value is "1/1900"; it must be'),
    ('note_value = "1/16"', 'rhythm = ["1/8", "x"]', 'passage.rhythm, entry 2, is "x"; it must be'),
]


@pytest.mark.parametrize(("old", "new", "message"), BAD_EDITS)
def test_bad_edits(drill_at, old, new, message):
    assert old in GOOD
    text = GOOD.replace(old, new)
    if message is None:
        drill_at(text)
        return
    with pytest.raises(FileError) as caught:
        drill_at(text)
    assert message in str(caught.value)
    assert "odd.toml: " in str(caught.value)


BAD_PASSAGES = [
    ("notes = []", "passage.notes is []; it must be a list of notes"),
    ('notes = "G4 1/4"', 'passage.notes is "G4 1/4"; it must be a list of notes'),
    ('notes = ["rest 1/4"]', "it must be at least one note"),
    ('notes = ["G4 1/4", "H4 1/4"]', 'passage.notes, entry 2, is "H4 1/4"; it must be a note such'),
    ('notes = ["G4"]', 'passage.notes, entry 1, is "G4"; it must be a note such as'),
    ('notes = [""]', 'passage.notes, entry 1, is ""; it must be a note such as'),
    ('notes = ["G4 x/4"]', 'passage.notes, entry 1, is "G4 x/4"; it must be a fraction'),
    ('notes = ["G4 0/4"]', 'passage.notes, entry 1, is "G4 0/4"; it must be a fraction'),
    ('notes = ["G4 1/4 T9"]', '"T9" fits nowhere'),
    ('notes = ["G4 1/4 21"]', '"21" fits nowhere'),
    ('notes = ["G4 1/4 ta ka"]', '"ka" fits nowhere'),
    ('notes = ["rest 1/4 ta"]', "it must be a rest with nothing but a length"),
    ('notes = ["G4 1/4 slur"]', "entry 1 is slurred: put another pitch right before it"),
    ('notes = ["G4 1/4", "G4 1/4 slur"]', "entry 2 is slurred"),
    ('notes = ["G4 1/4", "rest 1/4", "A4 1/4 slur"]', "entry 3 is slurred"),
    (
        'notes = ["G7 1/4"]',
        "passage: note 1 is G7, which the double horn lacks; written notes from C2",
    ),
    ('notes = ["G4 1/4"]\nkey = "H"', 'passage.key is "H"; it must be a key such as'),
    ('notes = ["G4 1/4"]\nkey = "C lydian"', 'passage.key is "C lydian"; it must be a key such as'),
    ('notes = ["G4 1/4"]\nmoved_by = [99]', "passage.moved_by is [99]; it must be"),
    ("notes = [" + '"G4 1/4",' * 2001 + "]", "it must be no longer than 2000 entries"),
    (
        "notes = [" + '"G4 8/1",' * 300 + "]",
        "passage makes 300 notes in 2400 bars; at most 2000 notes",
    ),
    ('kind = "one_note"\nnote = "G4"\ncount = 0', "passage.count is 0; it must be"),
    ('kind = "one_note"\nnote = "G4"\ncount = 99999', "passage.count is 99999; it must be"),
    (
        'kind = "partials"\nfundamentals = ["C2"]\nfingerings = ["0", "2"]\npartials = [4]',
        "it must be as long as passage.fundamentals: 1",
    ),
    (
        'kind = "partials"\nfundamentals = ["C2"]\nfingerings = ["8"]\npartials = [4]',
        'passage.fingerings, entry 1, is "8"; it must be 0 or valve digits',
    ),
    (
        'kind = "partials"\nfundamentals = ["C2"]\nfingerings = ["0"]\npartials = [0]',
        "passage.partials is [0]; it must be",
    ),
    (
        'kind = "partials"\nfundamentals = [2]\nfingerings = ["0"]\npartials = [4]',
        "passage.fundamentals is [2]; it must be a list of written notes",
    ),
    (
        'kind = "sequence"\nmoves = [' + "0," * 60 + "0]\nfigure = [" + '"G4 1/8",' * 40 + "]",
        "it must be short enough for 2000 notes in all",
    ),
    (
        'kind = "long_tones"\nfrom = "C4"\nsteps = [0.5]',
        "passage.steps is [0.5]; it must be a list",
    ),
]


@pytest.mark.parametrize(("passage", "message"), BAD_PASSAGES)
def test_bad_passages(drill_at, passage, message):
    with pytest.raises(FileError) as caught:
        drill_at(with_passage(passage))
    assert message in str(caught.value)
    assert "odd.toml: " in str(caught.value)


def test_a_table_that_is_none(drill_at):
    with pytest.raises(FileError, match=r"tempo is 60; it must be a table, \[tempo\]"):
        drill_at('tempo = 60\n[passage]\nnotes = ["G4 1/4"]')


def test_names_and_paths(tmp_path, monkeypatch):
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    with pytest.raises(
        FileError, match=r'no drill "third"; did you mean thirds\? See coach drills\.$'
    ):
        load_drill("third")
    with pytest.raises(FileError, match=r"none\.toml: there is no such file"):
        load_drill(tmp_path / "none.toml")
    for name in ("march.musicxml", "march.mxl", "a/march.MID", "march.abc", "march.xml"):
        with pytest.raises(FileError, match=r"it can't be read"):
            load_drill(name)
    for name in ("", ".", "..", "a\0b", "/"):
        with pytest.raises(FileError):
            load_drill(name)


def test_own_drills_come_first_and_bad_ones_are_listed(tmp_path, monkeypatch):
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    folder = tmp_path / "drills"
    folder.mkdir()
    (folder / "thirds.toml").write_text(GOOD)
    (folder / "broken.toml").write_text("title = ")
    assert find_drill("thirds") == folder / "thirds.toml"
    assert load_drill("thirds")[0].title == "Invented"
    rows = {row.name: row for row in list_drills()}
    assert len(rows) == len(NAMES) + 1
    assert rows["thirds"].own
    assert not rows["fourths"].own
    assert "broken.toml, line 1" in rows["broken"].problem


# -- damaged files --------------------------------------------------------------------------------

TOKENS = st.sampled_from(
    [
        "0",
        "-1",
        "999999",
        "0x7fffffff",
        "999999999999999999999999999999",
        '"',
        "'",
        "[",
        "]",
        "{}",
        "[[a]]",
        "=",
        "#",
        "true",
        "nan",
        "1e999",
        "1979-05-27",
        '"G4_1/8"',
        "\\u0000",
        "♭",
        "kind",
        "keys",
        "all",
        "notes",
        "",
        "\n",
    ]
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(SHIPPED), st.data())
def test_damaged_drills(tmp_path, path, data):
    """Cut, overwritten or with tokens swapped: a drill that plays, or one clear error."""
    text = path.read_text(encoding="utf-8")
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 12)))
        text = text[:start] + data.draw(TOKENS) + text[end:]
    text = text[: data.draw(st.one_of(st.just(len(text)), st.integers(0, len(text))))]
    odd = tmp_path / "odd.toml"
    odd.write_text(text, encoding="utf-8")
    check_playable_or_refused(odd)


VALUES = st.recursive(
    st.one_of(
        st.integers(-(10**9), 10**9).map(str),
        st.floats().map(lambda x: str(x).replace("Infinity", "inf")),
        st.sampled_from(
            ["true", "false", '""', '"all"', '"C4"', '"1/16"', '"4/4"', '"up"', '"T0"']
        ),
    ),
    lambda inner: st.lists(inner, max_size=4).map(lambda xs: f"[{', '.join(xs)}]"),
    max_leaves=6,
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(SHIPPED), st.data())
def test_any_value_under_any_key(tmp_path, path, data):
    lines = path.read_text(encoding="utf-8").splitlines()
    places = [k for k, line in enumerate(lines) if "=" in line and not line.endswith("[")]
    place = data.draw(st.sampled_from(places))
    lines[place] = f"{lines[place].partition('=')[0]}= {data.draw(VALUES)}"
    odd = tmp_path / "odd.toml"
    odd.write_text("\n".join(lines), encoding="utf-8")
    check_playable_or_refused(odd)


def check_playable_or_refused(path) -> None:
    try:
        drill, instrument = load_drill(path)
    except CoachError as error:
        message = str(error)
        assert "odd.toml" in message
        assert "\n" not in message
        return
    for passage in drill.variants:
        assert all(instrument.reaches(note.pitch) for note in passage.notes)
        plan = plan_take(Exercise(passage, drill.from_bpm, click=drill.click), 48_000, 0)
        assert plan.end_frame > 0
        assert plan.clicks


@pytest.mark.parametrize(
    ("gate", "rule"),
    [
        ("", "ceiling"),
        ("passes = 2", "ceiling"),
        ("step_percent = 3", "steps"),
        ("back_after = 3", "steps"),
        ('step_percent = 3\nrule = "weighted"', "weighted"),
    ],
)
def test_who_sets_steps_gets_steps(drill_at, gate, rule):
    drill, _ = drill_at(with_passage('notes = ["G4 1/4"]') + f"\n[gate]\n{gate}\n")
    assert drill.gate.rule == rule
