"""Drill files: TOML in, a `Drill` with its instrument out.

    title = "Sixteenths on one note"
    about = "One sentence."
    instrument = "double-horn"      optional: whose written pitch this is (and whose fingerings)
    only_for = ["double-horn"]      optional: refuse others; the fingerings hold for all of these
    rules = "normal"                optional: a set of configs/rules.toml
    rest_beats = 8                  optional: clicks of rest between takes, 0 to 400
    cautions = ["..."]              optional: shown before playing

    [tempo]                         clicks a minute, 10 to 400, from <= to
    from = 60
    to = 120

    [gate]                          optional, as is every key
    threshold = 0.9                 share of clean notes that passes (default: by the rules)
    passes = 1
    step_percent = 4
    back_after = 2
    rule = "ceiling"                how the tempo moves: "ceiling" (to where a take will likely
                                    pass), "steps" (by these; the default where one of
                                    them is given), "weighted" (a step up, more back)

    [click]                         optional, as is every key
    sound = "wood"                  or "bell" or "tick"
    count_in_bars = 1
    subdivision = 1                 clicks inside a beat
    level_db = -12                  under full scale
    accent = true
    off_bars = [2, 1]               two bars on, one off

    [passage]                       either kind = "..." or notes = [...]; see drillkinds.KINDS

    [[vary]]                        optional, as many as wanted, applied in order: what to make of
    make = "bursts"                 every variant so far; the names and their options are those of
    sizes = [2, 3, 4]               core.variants.STEPS

Keys of every [passage] (all optional): way = "played", "air" or "mouthpiece" (not judged);
tempo_share = 0.6 (of the drill's tempo); meter = "4/4"; ending = "hold" (the last note lasts to the
end of its bar; not for long_tones) or "rest".  Of every passage but notes, sequence and long_tones:
note_value = "1/16" or rhythm = ["3/16", "1/16"] (gone round); slurred = false, true (one slur),
2 (two notes to a slur) or [2, 1, 1] (two slurred, two tongued); syllables = ["ta", "ka"] (given to
the tongued notes in turn).  Of every passage without keys: key = "F" or "D minor" (spelling) and,
except partials, moved_by = [0, 2, 4] (variants, semitones away).

Made in keys = "all" or ["C", "Bb"] (each key a variant), from = "G3" (the tonic is the first at or
above it), mode = "major", octaves = 1, direction = "up-down", "up", "down" or "down-up":
scale; chord (modes of core.patterns.keys.CHORDS; group = 3 breaks it into threes); intervals
(interval = 3: thirds), turns and figure (shape = [1, 3, 2]: steps counted from each note of the
scale, 1 being itself), all three with inside = true to reach no further than the octaves; repeated
(times = 4); growing (largest = 8; no octaves, no direction).
Others: chromatic (from, semitones, direction), long_tones (from, steps in semitones, note_value,
rest), one_note (note, count), partials (fundamentals, fingerings, partials), sequence (figure: a
list of notes; moves in semitones, one after the other in the same take).

notes and figure: written pitch, fraction of a whole note, then optionally slur, accent, a
syllable, a fingering: "G4 1/8", "A4 1/8 slur", "rest 1/4", "Bb4 1/16 ta T1".
With notes, meters = ["5: 3/4", "9: 4/4"] gives the meters that begin at later bars (here 5 and 9),
and first_bar = 41 what the first bar is called (the others count on from there).

Pitches are written; the passages of the returned drill sound (written + transposition).  A player
of another instrument reads the same written notes, moved by whole octaves where its range asks for
it; variants that fit in no octave are left out, and so are fingerings unless only_for names it.
"""

from __future__ import annotations

import unicodedata
from pathlib import Path

from coach.core.exercise import CLICK_SOUNDS, ClickStyle, Drill
from coach.core.gate import RULES, Gate
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.errors import CoachError, FileError
from coach.files.configs import (
    instrument_names,
    load_instrument,
    load_rules,
    rules_names,
)
from coach.files.drillkinds import passages_of
from coach.files.drillvary import varied
from coach.files.fitting import (
    DEFAULT_INSTRUMENT,
    in_octave,
    without_fingerings,
    written_name,
)
from coach.files.toml import Table, read_toml, toml_of

# Of the ways to move the tempo the one that finds the clean tempo in the fewest takes without more
# failures, in simulation (tests/benchmarks/pace.py).
USUAL_RULE = "ceiling"


def drill_name(stem: str) -> str:
    """What a drill is called, with letters and their marks as one, which on some systems they are
    not in the names of files."""
    return unicodedata.normalize("NFC", stem)


def read_drill(path: Path, *, instrument: str | None = None) -> tuple[Drill, Instrument]:
    """Read one drill file, for its own or for another instrument; FileError for a mistake."""
    return _drill_of(Table(read_toml(path), path), instrument)


def drill_of_text(text: str, path: Path, where: str) -> Drill:
    """The drill in this text, as it will be in a file at `path`; FileError, told of `where` the
    text stands, if it is none."""
    try:
        return _drill_of(Table(toml_of(text.encode(), path), path), None)[0]
    except CoachError as error:
        what = f"{error.where}: {error.what}" if error.where else error.what
        raise FileError(what, where, error.hint) from None


def _drill_of(table: Table, instrument: str | None) -> tuple[Drill, Instrument]:
    home = load_instrument(table.choice("instrument", instrument_names(), DEFAULT_INSTRUMENT))
    player = load_instrument(instrument) if instrument else home
    _check_only_for(table, player)
    rules = table.choice("rules", rules_names(), "normal")
    from_bpm, to_bpm = _tempo(table.table("tempo"))
    drill = Drill(
        drill_name(table.path.stem),
        table.text("title", table.path.stem),
        table.text("about", ""),
        _for_player(_written(table, home), home, player, table),
        from_bpm,
        to_bpm,
        player.name,
        rules,
        table.whole("rest_beats", 0, 400, 8),
        _gate(table.table("gate"), load_rules(rules).pass_share),
        _click(table.table("click")),
        table.texts("cautions", ()),
    )
    table.finish()
    return drill, player


def _written(table: Table, home: Instrument) -> tuple[Passage, ...]:
    """The variants in written pitch, inside the written range of the drill's own instrument."""
    low, high = home.lowest - home.transposition, home.highest - home.transposition
    return varied(table, passages_of(table.table("passage")), low, high)


def _check_only_for(table: Table, player: Instrument) -> None:
    known = instrument_names()
    names = table.texts("only_for", known)
    for place, name in enumerate(names):
        if name not in known:
            allowed = f"one of {', '.join(known)}"
            raise table.wrong_entry("only_for", place, allowed)
    if player.name not in names:
        what = f"this drill is not for the {player.title}"
        raise FileError(what, str(table.path), f"it is for {', '.join(names)}")


def _tempo(table: Table) -> tuple[float, float]:
    from_bpm, to_bpm = table.number("from", 10, 400), table.number("to", 10, 400)
    if from_bpm > to_bpm:
        raise table.wrong("from", f"no more than {table.name}.to, {to_bpm:g}")
    table.finish()
    return from_bpm, to_bpm


def _gate(table: Table, pass_share: float) -> Gate:
    usual = Gate()
    # Who sets the size of the steps wants steps.
    rule = "steps" if "step_percent" in table or "back_after" in table else USUAL_RULE
    gate = Gate(
        table.number("threshold", 0.5, 1, pass_share),
        table.whole("passes", 1, 10, usual.passes),
        table.number("step_percent", 0.5, 25, usual.step_percent),
        table.whole("back_after", 1, 20, usual.back_after),
        table.choice("rule", RULES, rule),
    )
    table.finish()
    return gate


def _click(table: Table) -> ClickStyle:
    usual = ClickStyle()
    style = ClickStyle(
        table.choice("sound", CLICK_SOUNDS, usual.sound),
        table.whole("count_in_bars", 1, 4, usual.count_in_bars),
        table.whole("subdivision", 1, 8, usual.subdivision),
        table.number("level_db", -60, -3, usual.level_db),
        table.flag("accent", usual.accent),
        _off_bars(table),
    )
    table.finish()
    return style


def _off_bars(table: Table) -> tuple[int, int] | None:
    bars = table.wholes("off_bars", 1, 64, ())
    if bars and len(bars) != 2:
        raise table.wrong("off_bars", "two numbers, bars on and bars off, such as [2, 1]")
    return (bars[0], bars[1]) if bars else None


def _for_player(
    written: tuple[Passage, ...], home: Instrument, player: Instrument, table: Table
) -> tuple[Passage, ...]:
    """The variants as they sound on the player's instrument, inside its range."""
    sounding = [passage.transposed(player.transposition) for passage in written]
    if player.name == home.name:
        for passage in sounding:
            _check_range(passage, player, table)
        return tuple(sounding)
    if "only_for" not in table:
        sounding = [without_fingerings(passage) for passage in sounding]
    fitted = [moved for passage in sounding if (moved := in_octave(passage, player))]
    if not fitted:
        _check_range(sounding[0], player, table)
        what = f"no variant lies in the range of the {player.title}"
        raise FileError(what, str(table.path), "choose another drill")
    return tuple(fitted)


def _check_range(passage: Passage, player: Instrument, table: Table) -> None:
    for place, note in enumerate(passage.notes):
        if not player.reaches(note.pitch):
            variant = f" of {passage.title}" if passage.title else ""
            name = written_name(note.pitch, player, passage)
            low, high = (written_name(p, player) for p in (player.lowest, player.highest))
            what = f"passage: note {place + 1}{variant} is {name}, which the {player.title} lacks"
            hint = f"written notes from {low} to {high} are allowed"
            raise FileError(what, str(table.path), hint)
