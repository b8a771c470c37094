"""What was done to a milk: chains of steps, the class of a baseline, what a comparison isolates.

Parsing is one line of text in, ordered steps out, and back the same.
"""

from evidence.handling.bands import handling_key
from evidence.handling.grammar import Chain, HandlingError, Step, parse_chain
from evidence.handling.meaning import Contrast, baseline_class, contrast, extent, fresh_limit_hours

__all__ = [
    "Chain",
    "Contrast",
    "HandlingError",
    "Step",
    "baseline_class",
    "contrast",
    "extent",
    "fresh_limit_hours",
    "handling_key",
    "parse_chain",
]
