"""The answer to every question the evidence can speak to, with numbers, flags, certainty and what was left out.

Computed once an edition and kept in the store.
"""

from evidence.findings.edition import ensure_evidence, findings, import_own, import_shipped, other_choices

__all__ = ["ensure_evidence", "findings", "import_own", "import_shipped", "other_choices"]
