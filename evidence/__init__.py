"""Published measurements of what stays in human milk, their statistics and the answers they allow.

Rooms, bottom up: model, handling, store, intake, effects, synthesis, findings. Imports run upward only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence.synthesis.many import PooledTable, pool_many

__all__ = ["PooledTable", "pool_many"]
__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """Load the statistics only when they are asked for, so that commands start fast."""
    if name in __all__:
        from evidence.synthesis import many

        return getattr(many, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
