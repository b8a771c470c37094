"""A question in ordinary words to a cited answer, or an honest refusal with words to say instead.

Deterministic and offline: vocabulary from data files, spelling by a library.
"""
