"""A trial of two ways of playing the same notes: which runs cleaner, settled by takes in pairs.

`begin` a trial, play what `next` says, tell `after` how it went; `outcome_of` says where it stands
and `words` what to do about it.
"""

from coach.core.trial.order import TrialTurn, Way
from coach.core.trial.result import Outcome, outcome_of, words
from coach.core.trial.settings import TrialSettings
from coach.core.trial.trial import Trial, begin

__all__ = ["Outcome", "Trial", "TrialSettings", "TrialTurn", "Way", "begin", "outcome_of", "words"]
