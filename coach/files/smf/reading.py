"""A MIDI file from its bytes to a `Song`: every track, with what was odd about the file."""

from __future__ import annotations

from coach.errors import FileError
from coach.files.smf.chunks import Header, header_at, is_chunk, song_bytes
from coach.files.smf.events import Odd, TrackReader
from coach.files.smf.song import Song, Track


def song_of(data: bytes, where: str) -> Song:
    """FileError if the bytes are no MIDI file, or one that breaks off inside an event.

    Put up with and remarked on: tracks that are missing or too many, chunks of another kind, a
    length that does not lead to the next chunk, bytes after the end, events that make no sense.
    """
    start, end = song_bytes(data, where)
    header = header_at(data, start, end, where)
    odd, at = Odd(), header.at
    tracks: list[Track] = []
    remarks: list[str] = []
    while at + 8 <= end:
        name, length = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        if name == b"MTrk":
            track, at, remark = _track(data, at + 8, length, end, len(tracks) + 1, where, odd)
            tracks.append(track)
        else:
            remark = f"A chunk at byte {at} is no track and was skipped."
            at += 8 + length
        remarks += [remark] if remark else []
    remarks += _about_tracks(header, len(tracks)) + _about(odd)
    return Song(header.kind, header.division, tuple(tracks), _few(remarks))


def _track(
    data: bytes, at: int, length: int, end: int, number: int, where: str, odd: Odd
) -> tuple[Track, int, str]:
    """The track whose events begin at byte `at`, where the next chunk begins, and a remark.

    The end-of-track event is believed more than a length that leads to no chunk.
    """
    told = at + length
    fits = told <= end and is_chunk(data, told, end)
    reader = TrackReader(data, at, told if fits else end, number, where, odd)
    track = reader.read()
    wrong = not fits or (reader.at < told and data[reader.at : reader.at + 4] == b"MTrk")
    if not wrong:
        return track, told, ""
    return track, reader.at, f"Track {number} is not as long as it says; its end event counts."


def _about_tracks(header: Header, found: int) -> list[str]:
    remarks = []
    if found != header.tracks:
        remarks.append(f"The file promises {header.tracks:,} tracks and has {found:,}.")
    if header.kind == 0 and found > 1:
        remarks.append("A file of format 0 has one track; these are taken to sound at once.")
    return remarks


def _about(odd: Odd) -> list[str]:
    told = {
        "Messages that belong on a cable were skipped": odd.system,
        "Notes that never end were ended by the next note or the end of the track": odd.endless,
        "Notes without any length were left out": odd.empty,
        "Ends of notes that had not begun were skipped": odd.stray_ends,
        "Time signatures that make no sense were skipped": odd.meters,
        "Key signatures that make no sense were skipped": odd.keys,
        "Tempo marks that make no sense were skipped": odd.tempos,
        "Tracks without an end event": odd.unclosed,
    }
    return [f"{what}: {count}." for what, count in told.items() if count]


# Of a broken file nobody reads more.
_MOST_REMARKS = 20


def _few(remarks: list[str]) -> tuple[str, ...]:
    more = len(remarks) - _MOST_REMARKS
    return (*remarks[:_MOST_REMARKS], *([f"And {more} remarks like these."] if more > 0 else []))


def no_notes(where: str) -> FileError:
    return FileError("there are no notes in it", where, "choose a file with notes")
