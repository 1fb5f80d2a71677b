"""The ensemble on the sound card: its port, its mix, and the ear that hears through it."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from coach.cli.opening import opened, ready, settings
from coach.cli.practice import OpenInput
from coach.cli.saying import print
from coach.core.timeline import Plan
from coach.core.tutti import mixer
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.mixer import Mix
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.cli.tape import Tape
    from coach.core.report import Report
    from coach.core.take import Take

# A font is loaded before anything plays, for the rate that most sound cards have.
CHECKED_AT = 48_000
ONE_SOUND = (
    "Left and right need headphones (start with --headphones): what the loudspeakers send into the"
    " microphone can be taken away as one sound only."
)


class Stage:
    """The ensemble and its mix; `around` puts it around the port of the sound card.

    `voicing` makes notes into sound at a rate; None: it is played by what hangs on the MIDI output
    `midi_out` (None: the only one), which sounds `latency_ms` after it is told to.
    """

    def __init__(
        self,
        ensemble: Ensemble,
        mix: Mix,
        voicing: Callable[[int], Any] | None,
        midi_out: str | None = None,
        latency_ms: float = 0.0,
    ) -> None:
        self.ensemble, self.mix = ensemble, mix
        # What the score has, whatever sounds in its place.
        self.written = ensemble
        self._voicing, self._midi_out, self._latency_ms = voicing, midi_out, latency_ms
        self._port: Any = None
        self._waves: Any = None
        self.heard: Any = None
        # The microphone hears the loudspeakers.
        self.in_room = False
        self.notice = ""
        self._releases: Any = None

    def around(self, port: Any) -> Any:
        from coach.ports.ensemble.midi import EnsembleMidiPort
        from coach.ports.ensemble.port import EnsemblePort

        if self._voicing is not None:
            self._port = EnsemblePort(port, self._track)
        else:
            self._port = EnsembleMidiPort(
                port,
                lambda plan: self.ensemble,
                self.mix,
                self._midi_out,
                settings().midi_api,
                latency_ms=self._latency_ms,
            )
        return self._port

    def command(self, name: str) -> None:
        """One key of the mixer; left and right only say why where they can't be."""
        self.notice = ONE_SOUND if self.in_room and name in mixer.SIDE_COMMANDS else ""
        if self.notice:
            return
        self.mix = mixer.commanded(self.mix, name, self.ensemble)
        if self._port is not None:
            self._port.set_mix(self.mix)

    def ear(self, plan: Plan, heard: Callable[[int, Any], None] | None = None) -> Any:
        """Hears the player through all that comes out of the loudspeakers, the click with it;
        `heard` as for FollowEar."""
        from coach.hear.through import ThroughEar

        self.heard = ThroughEar(plan.dues, plan.rate, self._port.heard_out, heard=heard)
        return self.heard

    def releasing(self, make_ear: Callable[..., Any]) -> Callable[[Plan], Any]:
        """The ear, and one around it that hears where notes stop as well (`releases`)."""
        from coach.core.tutti.cutoffs import cutoffs
        from coach.hear.releases import ReleaseEar

        def made(plan: Plan) -> Any:
            chosen = [cutoff.index for cutoff in cutoffs(plan)]
            make = partial(make_ear, plan)
            self._releases = ReleaseEar(plan.dues, plan.rate, chosen, make)
            return self._releases

        return made

    @property
    def releases(self) -> dict[int, int] | None:
        """The end frame of each note of the last take of which it could be told."""
        return None if self._releases is None else self._releases.releases

    def fit_event(self, take: Take, report: Report) -> dict[str, Any]:
        """How the take that was just heard fitted in, for the log."""
        from coach.core.tutti.fit import fit_of

        found = fit_of(report, take.plan, self.written, releases=self.releases)
        return {"event": "fit", "take": take.number, **found.to_dict()}

    @property
    def advice(self) -> str:
        """One sentence if too much of the ensemble remained in the microphone in the last take."""
        from coach.hear.through import MASKED_DB

        if self.heard is None or self.heard.loss_db <= MASKED_DB:
            return ""
        if self.heard.canceller.surplus_db:
            return (
                "What the loudspeakers send into the microphone could not be taken away, and notes"
                " could not be judged: use one sound card for both, or headphones."
            )
        return (
            f"The ensemble was only {-self.heard.leak_db:.0f} dB under you in the microphone, and"
            " some notes could not be judged: headphones, or the loudspeakers softer."
        )

    def _track(self, plan: Plan) -> Any:
        from coach.ports.ensemble.track import EnsembleTrack
        from coach.ports.ensemble.voicing import Waves

        assert self._voicing is not None
        if self._waves is None:
            self._waves = Waves(self._voicing(plan.rate))
        return EnsembleTrack(self.ensemble, plan, self.mix, self._waves)


def staged(
    args: argparse.Namespace, ensemble: Ensemble, tape: Tape | None = None, *, by_microphone: bool
) -> Stage:
    """The ensemble with the sound that was asked for, a recording of it if there is one;
    `by_microphone`: players are heard so."""
    midi = args.ensemble_midi
    if tape is not None:
        from coach.cli.tape import RecordedStage

        stage: Stage = RecordedStage(tape, ensemble)
    else:
        voicing = _voicing(args) if midi is None else None
        mix = mixer.first_mix(ensemble, args.own)
        stage = Stage(ensemble, mix, voicing, midi or None, _delay_ms(args))
    stage.in_room = by_microphone and midi is None and not args.headphones
    ready("coach.hear.releases", *(["coach.hear.through"] if stage.in_room else []))
    return stage


def opened_stage(args: argparse.Namespace, stack: contextlib.ExitStack, stage: Stage) -> OpenInput:
    """The input that was asked for, the ensemble sounding on the sound card beside the click."""
    from coach.screen.stage import make_stage_screen

    found = opened(args, stack, stage.around)
    if stage.in_room:
        stack.callback(lambda: _say(stage.advice))
    ear = stage.releasing(stage.ear if stage.in_room else found.make_ear)
    screen = partial(
        make_stage_screen,
        stage.written,
        lambda: stage.mix,
        notice=lambda: stage.notice,
        voices=stage.ensemble,
        releases=lambda: stage.releases,
    )
    return replace(
        found, make_ear=ear, mix=stage.command, make_screen=screen, tells=stage.fit_event
    )


def _delay_ms(args: argparse.Namespace) -> float:
    """As asked for, else as measured for this instrument, else none."""
    from coach.files.calibration import stored_delay
    from coach.ports.midi import choose_midi

    if args.ensemble_midi is None or args.ensemble_delay is not None:
        return float(args.ensemble_delay or 0.0)
    name = choose_midi("output", args.ensemble_midi or None, settings().midi_api).name
    measured = stored_delay(name)
    return 1000 * measured.seconds if measured else 0.0


def _say(advice: str) -> None:
    if advice:
        print(f"coach: {advice}", file=sys.stderr)


def _voicing(args: argparse.Namespace) -> Callable[[int], Any]:
    """How notes are made into sound at a rate: by the sound font asked for, else by one that is
    found and can be used, else by simple sounds."""
    from coach.files.configs import own_folder
    from coach.ports.ensemble.soundfont import SoundFont, find_soundfont
    from coach.ports.ensemble.synth import Synthesis

    font = None if args.simple_sound else find_soundfont(args.sound_font, own_folder())
    if font is None:
        return Synthesis
    try:
        loaded = SoundFont(font, CHECKED_AT)
    except CoachError:
        if args.sound_font:
            raise
        return Synthesis
    # Loading takes a second or two: not once more when the first take begins.
    return lambda rate: loaded if rate == CHECKED_AT else SoundFont(font, rate)
