"""Small MusicXML files, made up for one question each."""

from __future__ import annotations

import zipfile
from io import BytesIO

from coach.core.score.model import Head, Score
from coach.files.musicxml import read_musicxml

CONTAINER = (
    b'<container><rootfiles><rootfile full-path="score.xml" '
    b'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>'
)


def note(pitch: str, duration: int | str = 1, more: str = "", before: str = "") -> str:
    """A <note>: "C4", "F#4", "Bb3" or "r" for a rest; `before` stands in front of the pitch."""
    if pitch == "r":
        sound = "<rest/>"
    else:
        sign = {"#": 1, "b": -1}.get(pitch[1:2])
        alter = f"<alter>{sign}</alter>" if sign else ""
        sound = f"<pitch><step>{pitch[0]}</step>{alter}<octave>{pitch[-1]}</octave></pitch>"
    return f"<note>{before}{sound}<duration>{duration}</duration>{more}</note>"


def grace(pitch: str, more: str = "") -> str:
    full = note(pitch, 0, more, "<grace/>")
    return full.replace("<duration>0</duration>", "")


def attributes(inside: str = "", divisions: int | str = 1) -> str:
    return f"<attributes><divisions>{divisions}</divisions>{inside}</attributes>"


def bars(*contents: str, first: str | None = None) -> str:
    """Bars 1, 2, 3 ...; the first begins with `first` (divisions of 1 if not given)."""
    head = attributes() if first is None else first
    made = [head + contents[0], *contents[1:]]
    return "".join(f'<measure number="{n}">{c}</measure>' for n, c in enumerate(made, 1))


def partwise(*parts: str, names: tuple[str, ...] = ("Horn",), head: str = "") -> bytes:
    """A score of parts P1, P2 ..., each out of `bars`."""
    ids = [f"P{n}" for n in range(1, len(parts) + 1)]
    listed = "".join(
        f'<score-part id="{i}"><part-name>{n}</part-name></score-part>'
        for i, n in zip(ids, (*names, *ids[len(names) :]), strict=False)
    )
    music = "".join(f'<part id="{i}">{p}</part>' for i, p in zip(ids, parts, strict=True))
    text = f"<score-partwise>{head}<part-list>{listed}</part-list>{music}</score-partwise>"
    return text.encode()


def read(*parts: str, **options: object) -> Score:
    return read_musicxml(partwise(*parts, **options), "made.xml")  # type: ignore[arg-type]


def heads(score: Score, bar: int = 0, part: int = 0) -> tuple[Head, ...]:
    return score.parts[part].bars[bar].heads


def told(score: Score, bar: int = 0, part: int = 0) -> list[tuple[str, float, float]]:
    """Name, onset and length of each head; for exact comparison of simple fractions."""
    return [(h.written.name, float(h.onset), float(h.length)) for h in heads(score, bar, part)]


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()
