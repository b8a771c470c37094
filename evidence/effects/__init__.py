"""From printed rows to effects on the log scale, each carrying the recipe that made it.

The gate decides what may be pooled; everything else is listed with a reason.
"""

from evidence.effects.effect import Effect, LeftOut, effect_of, pooled_class
from evidence.effects.recipes import class_sd

__all__ = ["Effect", "LeftOut", "class_sd", "effect_of", "pooled_class"]
