"""A passage written to a file: a drill, MusicXML, MIDI or ABC, by the file's ending."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from coach.cli.carried import carried, fingered
from coach.cli.loading import loaded
from coach.cli.saying import print
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.score.model import Part
from coach.errors import CoachError, FileError
from coach.files.configs import own_folder
from coach.files.output import check_free, private_folder, write_whole, writing

KINDS = ".toml, .musicxml, .mid or .abc"
_TEXTS = {".toml", ".musicxml", ".xml", ".abc"}
_MIDI = {".mid", ".midi"}


def write_passage(args: argparse.Namespace) -> Path:
    """Write what the options choose to --out; FileError if it is there already (or can't be)."""
    path: Path = args.out
    if path.suffix.lower() not in _TEXTS | _MIDI:
        raise FileError(f'the ending "{path.suffix}" is unknown', str(path), f"use {KINDS}")
    drill, instrument = loaded(args, args.file, args.instrument)
    drill = carried(drill, instrument, args)
    if len(drill.variants) > 1 and path.suffix.lower() != ".toml":
        print(f"Of {len(drill.variants)} variants the first is written.")
    data = _data(path, drill, instrument, shown=args.fingering is not None)
    _write(path, data, over=args.replace)
    return path


def write_places(args: argparse.Namespace, places: Sequence[str], part: Part) -> list[Path]:
    """Each of these bars as a drill file beside --out, numbered from 1."""
    if args.out.suffix.lower() != ".toml":
        raise FileError("hard places are written as drills", str(args.out), "use .toml")
    paths = []
    for rank, bars in enumerate(places, 1):
        path = args.out.with_stem(f"{args.out.stem}-{rank}")
        one = argparse.Namespace(**{**vars(args), "bars": bars, "part": part.name, "out": path})
        paths.append(write_passage(one))
    return paths


def _data(path: Path, drill: Drill, instrument: Instrument, *, shown: bool) -> bytes:
    passage = replace(drill.variants[0], title=drill.title)
    try:
        if path.suffix.lower() in _MIDI:
            from coach.files.smf import smf_bytes

            return smf_bytes(passage, instrument, drill.to_bpm)
        return _text(path.suffix.lower(), drill, passage, instrument, shown).encode()
    except ValueError as error:
        raise CoachError(f"it can't be written: {error}", drill.name, "choose other bars") from None


def _text(suffix: str, drill: Drill, passage: Passage, instrument: Instrument, shown: bool) -> str:
    if suffix == ".toml":
        return text_of_drill(drill, instrument)
    if suffix == ".abc":
        from coach.files.abc import abc_text

        return abc_text(passage, instrument, drill.to_bpm)
    from coach.files.musicxmlwrite import musicxml_text

    others: Sequence[str | None] = ()
    if shown:
        bare = replace(passage, notes=tuple(replace(n, fingering=None) for n in passage.notes))
        second = fingered(bare, drill.to_bpm, instrument, drill.name, 2)
        others = [note.fingering for note in second.notes]
    return musicxml_text(passage, instrument, drill.to_bpm, alternates=others)


def text_of_drill(drill: Drill, instrument: Instrument) -> str:
    """The drill file of the first variant; ValueError or CoachError if there can be none."""
    from coach.core.patterns.keys import name_of_place
    from coach.files.drillwrite import Heading, drill_text, meter_of

    passage = drill.variants[0]
    heading = Heading(
        drill.title,
        drill.about,
        meter_of(passage),
        name_of_place(passage.fifths),
        drill.from_bpm,
        drill.to_bpm,
        drill.click,
    )
    return drill_text(passage, instrument, heading)


def _write(path: Path, data: bytes, *, over: bool) -> None:
    check_free(path, replace=over)
    if path.parent == own_folder() / "drills":
        with writing(path):
            private_folder(path.parent)
    write_whole(path, data)
