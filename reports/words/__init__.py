"""Sentences: a message catalogue a language, and the code that chooses and fills them in.

Computed from interval, certainty and baseline; what a number was compared with stands in the same sentence.
"""
