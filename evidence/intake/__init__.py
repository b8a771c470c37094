"""Reading tables and references from files: every problem as a sentence, all of them at once.

Nothing here writes; evidence.store does, and only a bundle without problems.
"""
