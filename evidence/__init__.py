"""Published measurements of what stays in human milk, their statistics and the answers they allow.

Rooms, bottom up: model, handling, store, intake, effects, synthesis, findings. Imports run upward only.
"""

__version__ = "0.1.0"
