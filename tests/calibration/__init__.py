"""Calibration: whole invented evidence tables with a known truth, and whether the answers hold what they promise."""
