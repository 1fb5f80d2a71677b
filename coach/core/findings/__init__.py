"""Findings: the pattern in the mistakes of several takes, said in a sentence, and its drill.

A finding is told only if it would come up by chance, in one session in twenty at most, however many
questions were asked of the takes (`find.py` says how that is counted).
"""

from coach.core.findings.facts import Judged
from coach.core.findings.find import Finding, find, no_pattern
from coach.core.findings.prescribe import drill_for

__all__ = ["Finding", "Judged", "drill_for", "find", "no_pattern"]
