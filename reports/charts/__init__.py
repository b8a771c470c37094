"""Drawings with a look of their own: the parents' bar and the clinicians' what-stays chart.

Each takes figures that are ready to print, returns text that is the same on every machine, and stands in for by words.
"""
