"""From printed rows to effects on the log scale, each carrying the recipe that made it.

The gate decides what may be pooled; everything else is listed with a reason.
"""

from evidence.effects.effect import Effect, LeftOut, effect_of, pooled_class
from evidence.effects.recipes import class_sd, t_quantile
from evidence.effects.share import Share, share_of

__all__ = ["Effect", "LeftOut", "Share", "class_sd", "effect_of", "pooled_class", "share_of", "t_quantile"]
