"""The copy check: every sentence of a text held against the evidence, and the shortest wording that may stand.

Deterministic and offline: words in data/vocabulary/claims.LANG.toml, rules in judge.py. In doubt never supported.
"""
