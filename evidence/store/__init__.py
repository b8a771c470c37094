"""Where the evidence lives: a SQLite file or a PostgreSQL database, imported all or not at all.

The edition's hash is the same on both.
"""

from evidence.store.connection import Store, open_store
from evidence.store.importing import Imported, import_rows

__all__ = ["Imported", "Store", "import_rows", "open_store"]
