"""The rows, words and rules everything else is made of: tables, closed lists, thresholds, problems as sentences.

Kept light on purpose: importing this room loads no table; evidence.model.tables does.
"""

from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.shipped import bibliography_folder, data_folder

__all__ = ["InputProblems", "Problem", "bibliography_folder", "data_folder", "nearest_word"]
