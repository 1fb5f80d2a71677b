"""What notes, rests and their signs mean, in small files made for one question each.

The rules are those of the MusicXML 4.0 reference.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.core.score.model import Meter
from coach.files.musicxml import read_musicxml
from tests.files.musicxml.making import attributes, bars, grace, heads, note, read, told

F = Fraction
TRIPLE = "<time-modification><actual-notes>{}</actual-notes><normal-notes>{}</normal-notes>{}"
METER = "<time><beats>{}</beats><beat-type>{}</beat-type></time>"


def tuplet(actual: int, normal: int, kind: str) -> str:
    ratio = TRIPLE.format(actual, normal, "</time-modification>")
    return f"<type>{kind}</type>{ratio}"


def test_a_rounded_tuplet_is_exact_and_does_not_drift():
    """Seven eighths in the time of four last 137 1/7 of 480 divisions each."""
    seven = note("C4", 137, tuplet(7, 4, "eighth")) * 7
    after = note("D4", 480, "<type>quarter</type>")
    second = "<backup><duration>1439</duration></backup>" + note("E4", 960, "<voice>2</voice>")
    score = read(bars(seven + after + second, first=attributes(METER.format(3, 4), 480)))
    notes = heads(score)
    firsts = [h for h in notes if h.voice == "1"]
    assert [h.onset for h in firsts] == [F(2 * n, 7) for n in range(7)] + [F(2)]
    assert {h.length for h in firsts[:7]} == {F(2, 7)}
    assert [h.onset for h in notes if h.voice == "2"] == [0]
    assert score.frames[0].length == 3


def test_going_back_to_inside_a_rounded_tuplet():
    """The file counts back 137 of 480: that is one note of the tuplet."""
    seven = note("C4", 137, tuplet(7, 4, "eighth")) * 3
    back = "<backup><duration>137</duration></backup>" + note("E4", 480, "<voice>2</voice>")
    score = read(bars(seven + back, first=attributes(divisions=480)))
    assert heads(score)[-1].onset == F(4, 7)


def test_a_duration_that_is_no_rounding_counts():
    """Two divisions off are no rounding: the duration is what is played."""
    score = read(bars(note("C4", 139, tuplet(7, 4, "eighth")), first=attributes(divisions=480)))
    assert heads(score)[0].length == F(139, 480)


def test_lengths_without_durations():
    dotted = note("C4", more="<type>quarter</type><dot/><dot/>") + note(
        "D4", more=tuplet(3, 2, "eighth")
    )
    score = read(bars(dotted.replace("<duration>1</duration>", "")))
    assert told(score) == [("C4", 0, 1.75), ("D4", 1.75, pytest.approx(1 / 3))]


def test_a_rest_over_the_bar():
    """It is as long as the bar, with no duration or with that of a whole note."""
    rest = note("r", 4).replace("<rest/>", '<rest measure="yes"/>')
    bare = rest.replace("<duration>4</duration>", "")
    score = read(bars(rest, bare, note("C4", 3), first=attributes(METER.format(3, 4))))
    assert [f.length for f in score.frames] == [3, 3, 3]


def test_rests_count_as_a_voice_unless_hidden():
    hidden = note("r", 4, "<voice>2</voice>").replace("<note>", '<note print-object="no">')
    shown = note("r", 4, "<voice>3</voice>")
    back = "<backup><duration>4</duration></backup>"
    score = read(bars(note("C4", 4) + back + hidden + back + shown))
    assert score.parts[0].bars[0].voices == ((1, "1"), (1, "3"))


def test_cue_notes_take_their_time_only():
    cue = note("G5", 2, before="<cue/>") + note("G5", 1, '<type size="cue">quarter</type>')
    score = read(bars(cue + note("C4")))
    assert told(score) == [("C4", 3, 1)]
    assert score.remarks == ("Cue notes left out: 2 (first in part Horn, bar 1).",)


def test_unpitched_notes_take_their_time_only():
    hit = "<note><unpitched/><duration>1</duration></note>"
    score = read(bars(hit + note("C4")), bars(hit * 2), names=("Horn", "Drum"))
    assert told(score) == [("C4", 1, 1)]
    assert heads(score, part=1) == ()
    assert score.remarks == ("Part Drum has no pitched notes.",)


def test_marks():
    articulations = "<accent/><strong-accent/><staccato/><tenuto/><staccatissimo/>"
    technical = "<double-tongue/><triple-tongue/><stopped/><open/>"
    more = (
        f"<notations><articulations>{articulations}<detached-legato/><breath-mark/></articulations>"
        f"<technical>{technical}</technical><fermata/></notations><notations><ornaments>"
        '<trill-mark/><tremolo type="single">2</tremolo></ornaments></notations>'
    )
    names = (
        "accent marcato staccato tenuto staccatissimo portato breath-mark double-tongue "
        "triple-tongue stopped open fermata trill tremolo-2"
    )
    assert heads(read(bars(note("C4", 1, more))))[0].marks == set(names.split())


def fingered(*fingerings: str) -> str | None:
    inside = "".join(fingerings)
    more = f"<notations><technical>{inside}</technical></notations>"
    return heads(read(bars(note("C4", 1, more))))[0].fingering


def test_written_fingerings():
    one, three = "<fingering> 1 </fingering>", "<fingering>3</fingering>"
    assert fingered(one) == "1"
    assert fingered(one, three) == "13"
    assert fingered(one, '<fingering alternate="yes">3</fingering>') == "1"
    assert fingered(one, '<fingering substitution="yes">3</fingering>') == "1"
    assert fingered("<fingering>T123456789</fingering>") == "T1234567"
    assert fingered("<fingering/>") is None


def test_only_lyrics_named_tonguing_are_syllables():
    word = '<lyric number="1"><text>Glo</text></lyric>'
    ta = '<lyric number="2" name="tonguing"><text> ta </text></lyric>'
    score = read(bars(note("C4", 1, word + ta) + note("D4", 1, word)))
    assert [h.syllable for h in heads(score)] == ["ta", None]


def test_ties_are_taken_from_the_drawing_if_there_is_no_other():
    start = "<notations><tied type='start'/></notations>"
    stop = "<notations><tied type='stop'/></notations>"
    score = read(bars(note("C4", 1, start) + note("C4", 1, stop)))
    assert [(h.tied_back, h.tied_on) for h in heads(score)] == [(False, True), (True, False)]


def slur(kind: str, number: int = 1) -> str:
    return f'<notations><slur type="{kind}" number="{number}"/></notations>'


def slurred(content: str) -> dict[str, bool]:
    return {h.written.name: h.slurred for h in heads(read(bars(content)))}


def test_two_voices_may_use_the_same_slur_number():
    """Voice 1 is slurred from C to F; in voice 2 only C to D, inside that time."""
    upper = note("C5", 1, slur("start")) + note("D5") + note("E5") + note("F5", 1, slur("stop"))
    two = "<voice>2</voice>"
    lower = "".join(
        [
            note("C4", 1, two),
            note("D4", 1, two + slur("start")),
            note("E4", 1, two + slur("stop")),
            note("F4", 1, two),
        ]
    )
    found = slurred(upper + "<backup><duration>4</duration></backup>" + lower)
    assert found == {
        name: name in ("D5", "E5", "F5", "E4")
        for name in ("C5", "D5", "E5", "F5", "C4", "D4", "E4", "F4")
    }


def test_a_slur_may_end_in_another_voice():
    two = "<voice>2</voice>"
    upper = note("C5") + note("D5", 1, slur("stop"))
    lower = note("C4", 1, two + slur("start")) + note("D4", 1, two) + note("E4", 1, two)
    found = slurred(upper + "<backup><duration>2</duration></backup>" + lower)
    assert [name for name, joined in found.items() if joined] == ["D4"]


def test_slurs_that_never_end_or_begin_are_left_out():
    found = slurred(note("C4", 1, slur("stop")) + note("D4", 1, slur("start")) + note("E4"))
    assert not any(found.values())


def test_a_slur_over_the_bar_line():
    score = read(bars(note("C4", 1, slur("start")), note("D4"), note("E4", 1, slur("stop"))))
    assert [heads(score, bar)[0].slurred for bar in range(3)] == [False, True, True]


def test_grace_notes_keep_their_order_before_the_main_note():
    score = read(bars(grace("E4") + grace("D4") + note("C4", 2) + grace("F4") + note("G4", 2)))
    assert told(score) == [("E4", 0, 0), ("D4", 0, 0), ("C4", 0, 2), ("F4", 2, 0), ("G4", 2, 2)]


def test_a_bar_that_repeats_the_one_before():
    style = (
        "<attributes><measure-style><measure-repeat type='{}'>1</measure-repeat></measure-style>"
    )
    start, stop = (style.format(kind) + "</attributes>" for kind in ("start", "stop"))
    silence = note("r", 2)
    score = read(bars(note("C4") + note("D4"), start + silence, silence, stop + silence))
    played = [[h.written.name for h in heads(score, bar)] for bar in range(4)]
    assert played == [["C4", "D4"], ["C4", "D4"], ["C4", "D4"], []]


def test_bars_that_repeat_the_two_before():
    style = "<attributes><measure-style><measure-repeat type='start'>2</measure-repeat>"
    start = style + "</measure-style></attributes>"
    score = read(bars(note("C4"), note("D4"), start, ""))
    assert [heads(score, bar)[0].written.name for bar in range(4)] == ["C4", "D4", "C4", "D4"]


def test_a_clef_change_is_asked_for_by_time():
    """The second voice goes back to before the change, on the same staff."""
    bass = "<attributes><clef><sign>F</sign><line>4</line></clef></attributes>"
    two = "<voice>2</voice>"
    lower = note("E4", 2, two) + note("F4", 2, two)
    back = "<backup><duration>4</duration></backup>"
    score = read(bars(note("C5", 2) + bass + note("C3", 2) + back + lower))
    clefs = {h.written.name: h.clef for h in heads(score)}
    assert clefs == {"C5": "G", "C3": "F", "E4": "G", "F4": "F"}


def test_octave_clefs_do_not_move_the_pitch():
    clef = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    (head,) = heads(read(bars(note("C4"), first=attributes(clef))))
    assert (head.clef, head.sounding) == ("G", 60)


def test_keys_change_inside_a_bar():
    key = "<key><fifths>{}</fifths></key>"
    change = f"<attributes>{key.format(-3)}</attributes>"
    score = read(bars(note("C4", 2) + change + note("C4", 2), first=attributes(key.format(2))))
    assert score.parts[0].bars[0].keys == ((0, 2), (2, -3))


@pytest.mark.parametrize(
    ("steps", "fifths"),
    [("F:1", 1), ("B:-1 E:-1", -2), ("F:1 C:1 G:1 D:1", 4), ("", 0), ("B:-1 E:-1 F:1", -2)],
)
def test_unusual_keys_become_the_nearest(steps, fifths):
    pairs = "".join(
        f"<key-step>{s[0]}</key-step><key-alter>{s[2:]}</key-alter>" for s in steps.split()
    )
    score = read(bars(note("C4"), first=attributes(f"<key>{pairs}</key>")))
    assert score.parts[0].bars[0].keys == ((0, fifths),)


@pytest.mark.parametrize(
    ("inside", "semitones"),
    [
        ("<diatonic>-4</diatonic><chromatic>-7</chromatic>", -7),
        ("<chromatic>-2</chromatic><octave-change>-1</octave-change>", -14),
        ("<chromatic>0</chromatic><double/>", -12),
        ("<chromatic>0</chromatic><double above='yes'/>", 12),
    ],
)
def test_transpositions(inside, semitones):
    score = read(bars(note("C4"), first=attributes(f"<transpose>{inside}</transpose>")))
    assert score.parts[0].transposition == semitones
    assert heads(score)[0].sounding == 60 + semitones


def test_transpositions_change_within_a_bar_and_by_staff():
    other = "<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>"
    horn = "<transpose><chromatic>-7</chromatic></transpose>"
    score = read(bars(note("C4") + other + note("C4"), note("C4"), first=attributes(horn)))
    assert [h.transposition for h in heads(score) + heads(score, 1)] == [-7, -2, -2]
    two = horn + "<transpose number='2'><chromatic>0</chromatic></transpose>"
    staves = note("C4", 1, "<staff>1</staff>") + note("C4", 1, "<staff>2</staff>")
    assert [h.transposition for h in heads(read(bars(staves, first=attributes(two))))] == [-7, 0]


def test_a_score_at_concert_pitch():
    """Horn in F: a printed B flat 3 that sounds so is written F4, in a key with one sharp more."""
    part = "<part-transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></part-transpose>"
    inside = f"<key><fifths>-2</fifths></key><for-part>{part}</for-part>"
    concert = "<defaults><concert-score/></defaults>"
    notes = note("Bb3") + note("F#4") + note("C4")
    score = read(bars(notes, first=attributes(inside)), head=concert)
    assert [h.written.name for h in heads(score)] == ["F4", "C#5", "G4"]
    assert [h.sounding for h in heads(score)] == [58, 66, 60]
    assert score.parts[0].bars[0].keys == ((0, -1),)
    assert score.parts[0].transposition == -7


def test_names_and_sounds_of_parts():
    listed = (
        '<part-list><score-part id="A"><part-name>Horn\nin F</part-name>'
        '<midi-instrument id="x"><midi-program>61</midi-program></midi-instrument></score-part>'
        '<score-part id="B"><part-name/><score-instrument id="y"><instrument-name>Tuba'
        "</instrument-name><instrument-sound>brass.tuba</instrument-sound></score-instrument>"
        '</score-part><score-part id="C"><part-name>Oboe</part-name></score-part></part-list>'
    )
    music = f'<part id="B">{bars(note("C2"))}</part><part id="A">{bars(note("C4"))}</part>'
    data = f"<score-partwise>{listed}{music}</score-partwise>".encode()
    score = read_musicxml(data, "made.xml")
    assert [(p.name, p.sound) for p in score.parts] == [
        ("Horn in F", "program 60"),  # General MIDI counts from 1, MIDI files from 0
        ("Tuba", "brass.tuba"),
    ]
    assert score.remarks == ("Parts of the list without music: 1.",)


@pytest.mark.parametrize(
    ("head", "title"),
    [
        ("<work><work-title>Suite</work-title></work>", "Suite"),
        ("<movement-title>Gigue</movement-title>", "Gigue"),
        (
            "<work><work-title>Suite</work-title></work><movement-title>Gigue</movement-title>",
            "Suite, Gigue",
        ),
        (
            "<credit><credit-type>composer</credit-type><credit-words>me</credit-words></credit>"
            "<credit><credit-type>title</credit-type><credit-words>A\nAir</credit-words></credit>",
            "A Air",
        ),
        ("", ""),
    ],
)
def test_titles(head, title):
    assert read(bars(note("C4")), head=head).title == title


def test_bar_by_bar_is_the_same_as_part_by_part():
    """The same two parts of two bars in both orders of MusicXML; the second joins in bar 2."""
    first = attributes(METER.format(2, 4)) + note("C4", 2)
    listed = "<part-list><score-part id='A'><part-name>Horn</part-name></score-part></part-list>"
    text = (
        f"<score-timewise>{listed}<measure number='0' implicit='yes'><part id='A'>{first}</part>"
        f"<part id='B'>{note('E4', 1)}</part></measure><measure number='1'>"
        f"<part id='B'>{note('F4', 2)}</part></measure></score-timewise>"
    )
    score = read_musicxml(text.encode(), "made.xml")
    assert [p.name for p in score.parts] == ["Horn", "B"]
    assert [[h.written.name for h in bar.heads] for bar in score.parts[0].bars] == [["C4"], []]
    assert [[h.written.name for h in bar.heads] for bar in score.parts[1].bars] == [["E4"], ["F4"]]
    assert [(f.number, f.implicit, f.meter) for f in score.frames] == [
        ("0", True, Meter((2,), 4)),
        ("1", False, Meter((2,), 4)),
    ]
    assert "fewer bars" in " ".join(score.remarks)


def test_parts_of_different_length():
    score = read(bars(note("C4", 4)), bars(note("C4", 4), note("D4", 4)))
    assert [len(p.bars) for p in score.parts] == [2, 2]
