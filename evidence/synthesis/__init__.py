"""Statistics: numbers in, frozen results out; nothing here knows of milk, files or words.

The classical line (classical), rows of one study (dependence), and the mixture with shared heterogeneity (shared).
"""

from evidence.synthesis.classical import PooledEstimate, pool
from evidence.synthesis.dependence import StudyEstimates, combine_within_studies
from evidence.synthesis.own_rows import OwnPool, pool_own_rows, pool_own_rows_shared
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import SharedEstimate, posterior
from evidence.synthesis.tau_median import TauMedian, fit_tau_median

__all__ = [
    "GridSettings",
    "NoEstimate",
    "OwnPool",
    "PooledEstimate",
    "SharedEstimate",
    "StudyEstimates",
    "TauMedian",
    "TauPrior",
    "combine_within_studies",
    "fit_tau_median",
    "pool",
    "pool_own_rows",
    "pool_own_rows_shared",
    "posterior",
]
