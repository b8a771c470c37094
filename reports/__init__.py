"""Words, charts, sheets, pages and the command line: everything a person sees.

Rooms, bottom up: words, charts, sheets, site, command. All figures come from evidence.findings.
"""
