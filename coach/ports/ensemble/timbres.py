"""What the instruments of the embedded synthesis are made of, by General MIDI program.

Families by eight programs are those of General MIDI Level 1.  The spectra follow what is commonly
said of the families (odd harmonics of a clarinet, a bright edge of brass when loud, a near sine of
the flute) and were chosen to be plain; no source.
"""

from __future__ import annotations

from dataclasses import dataclass

Partials = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Timbre:
    """`soft` and `bright` are strengths of the harmonics 1, 2, ...; the louder a note, the more it
    has of `bright`.  `decay_s`: the time in which it dies away by 60 dB (None: it is held), its
    bright share four times as fast.  `vibrato_cents` comes in after the start.  `base`: the pitch
    the harmonics are counted from, as a share of the note's; `noise`: a share of noise."""

    soft: Partials
    bright: Partials
    attack_s: float = 0.015
    release_s: float = 0.08
    decay_s: float | None = None
    vibrato_cents: float = 0.0
    base: float = 1.0
    noise: float = 0.0


def _falling(power: float, count: int) -> Partials:
    return tuple(n**-power for n in range(1, count + 1))


_PIANO = Timbre(_falling(1.6, 8), _falling(1.0, 12), 0.010, 0.12, 6.0)
_BELLS = Timbre((1, 0, 0, 0.3), (1, 0, 0.3, 0.5, 0, 0.2), 0.010, 0.30, 3.0)
_ORGAN = Timbre((1, 0.6, 0.2, 0.4, 0, 0.1), (1, 0.7, 0.4, 0.5, 0.1, 0.2, 0, 0.2), 0.020)
_PLUCKED = Timbre(_falling(1.5, 8), _falling(0.9, 14), 0.010, 0.10, 2.5)
_STRINGS = Timbre(_falling(1.4, 12), _falling(1.0, 16), 0.025, 0.12, None, 5.0)
_PIZZICATO = Timbre(_falling(1.8, 6), _falling(1.2, 8), 0.010, 0.06, 0.7)
_HARP = Timbre(_falling(1.8, 8), _falling(1.2, 10), 0.010, 0.40, 4.0)
# The strong modes of a kettledrum lie near 2 : 3 : 4 : 5 (Rossing, from memory).
_TIMPANI = Timbre((0, 1, 0.5, 0.25, 0.1), (0, 1, 0.7, 0.5, 0.4), 0.010, 0.25, 1.8, base=0.5)
_VOICES = Timbre((1, 0.5, 0.35, 0.1, 0.05), (1, 0.6, 0.5, 0.2, 0.1, 0.05), 0.025, 0.12, None, 6.0)
_BRASS = Timbre(
    (1, 0.7, 0.45, 0.25, 0.12, 0.06), (1, 0.95, 0.85, 0.7, 0.5, 0.4, 0.3, 0.2, 0.14, 0.1), 0.018
)
_DOUBLE_REED = Timbre(
    (0.6, 0.8, 1, 0.6, 0.4, 0.25, 0.15), (0.5, 0.8, 1, 0.8, 0.6, 0.5, 0.3, 0.2), 0.015
)
_CLARINET = Timbre((1, 0.03, 0.5, 0.05, 0.2, 0.05, 0.1), (1, 0.06, 0.7, 0.1, 0.45, 0.1, 0.3), 0.018)
_SAX = Timbre((1, 0.7, 0.5, 0.35, 0.2, 0.1), (1, 0.9, 0.7, 0.6, 0.4, 0.3, 0.2), 0.015)
_FLUTE = Timbre((1, 0.25, 0.08, 0.03), (1, 0.45, 0.2, 0.08, 0.04), 0.022, 0.08, None, 4.0)
_DRUM = Timbre((1, 0.4, 0.2), (1, 0.6, 0.4, 0.3), 0.010, 0.10, 0.5, noise=0.7)

_FAMILIES = (
    *(_PIANO, _BELLS, _ORGAN, _PLUCKED, _PLUCKED, _STRINGS, _STRINGS, _BRASS),
    *(_DOUBLE_REED, _FLUTE, _STRINGS, _STRINGS, _STRINGS, _PLUCKED, _DRUM, _DRUM),
)
_OTHERS = {
    45: _PIZZICATO,
    46: _HARP,
    47: _TIMPANI,
    52: _VOICES,
    53: _VOICES,
    54: _VOICES,
    71: _CLARINET,
}
_SAXES = dict.fromkeys(range(64, 68), _SAX)


def timbre_of(program: int) -> Timbre:
    """The timbre that stands for a General MIDI program, 0 to 127."""
    return (_OTHERS | _SAXES).get(program, _FAMILIES[program // 8])


LONGEST_RELEASE_S = max(one.release_s for one in (*_FAMILIES, *_OTHERS.values()))
