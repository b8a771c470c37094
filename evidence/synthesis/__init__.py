"""Statistics: numbers in, frozen results out; nothing here knows of milk, files or words.

The classical line (classical; many groups at once: many; given covariances: covariance), the common effect, rows of one
study (dependence, three_level, cluster_robust), and the mixture with shared heterogeneity (shared).
"""

from evidence.synthesis.classical import PooledEstimate, pool
from evidence.synthesis.cluster_robust import RobustCoefficients, cluster_robust
from evidence.synthesis.common_effect import CommonEffect, common_effect, common_effect_with_covariance
from evidence.synthesis.covariance import pool_with_covariance
from evidence.synthesis.dependence import StudyEstimates, combine_within_studies
from evidence.synthesis.many import PooledTable, pool_many
from evidence.synthesis.own_rows import OwnPool, pool_own_rows, pool_own_rows_shared
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import SharedEstimate, posterior
from evidence.synthesis.tau_median import TauMedian, fit_tau_median
from evidence.synthesis.three_level import ThreeLevelEstimate, three_level

__all__ = [
    "CommonEffect",
    "GridSettings",
    "NoEstimate",
    "OwnPool",
    "PooledEstimate",
    "PooledTable",
    "RobustCoefficients",
    "SharedEstimate",
    "StudyEstimates",
    "TauMedian",
    "TauPrior",
    "ThreeLevelEstimate",
    "cluster_robust",
    "combine_within_studies",
    "common_effect",
    "common_effect_with_covariance",
    "fit_tau_median",
    "pool",
    "pool_many",
    "pool_own_rows",
    "pool_own_rows_shared",
    "pool_with_covariance",
    "posterior",
    "three_level",
]
