"""Studies, recordings, ledger and cached results: the only room that knows SQL."""

from arteriole.store.edit_json import edit_from_mapping, edit_to_mapping
from arteriole.store.ledger import Event
from arteriole.store.store import Store, open_store
from arteriole.store.studies import StoredRecording, StudyRow

__all__ = [
    "Event", "Store", "StoredRecording", "StudyRow", "edit_from_mapping", "edit_to_mapping",
    "open_store",
]  # fmt: skip
