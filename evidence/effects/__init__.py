"""From printed rows to effects on the log scale, each carrying the recipe that made it.

The gate decides what may be pooled; everything else is listed with a reason.
"""

from evidence.effects.effect import Effect, LeftOut, effect_of, pooled_class

__all__ = ["Effect", "LeftOut", "effect_of", "pooled_class"]
