"""The owner's settings: her service's name, logo and colours, her country, languages, units and paper.

A settings file dresses the pages; it reaches no sentence of an answer, no caution and not the maker's interest.
"""

from reports.settings.reading import find_settings, read_settings
from reports.settings.settings import FILE_NAME, PLAIN, Colour, Logo, Settings

__all__ = ["FILE_NAME", "PLAIN", "Colour", "Logo", "Settings", "find_settings", "read_settings"]
