"""Reading and writing the record: the ledger, the tables that follow from it, the data folder."""

from kb.incidents.store.folder import Folder, create, open_folder
from kb.incidents.store.record import Record

__all__ = ["Folder", "Record", "create", "open_folder"]
