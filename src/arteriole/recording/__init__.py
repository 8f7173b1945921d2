"""Frozen values every other room speaks in: recording, sheet, marks, edits, settings, findings."""

from arteriole.recording.channel import Channel
from arteriole.recording.edit import (
    Edit,
    EditRecord,
    MarkRemoved,
    MarkSet,
    RulesSet,
    SettingsSet,
    SheetSet,
    Undo,
    resolve,
)  # fmt: skip
from arteriole.recording.finding import Finding
from arteriole.recording.mark import Mark, mark_id
from arteriole.recording.recording import Recording
from arteriole.recording.settings import Settings
from arteriole.recording.sheet import Sheet

__all__ = [
    "Channel", "Edit", "EditRecord", "Finding", "Mark", "MarkRemoved", "MarkSet", "Recording",
    "RulesSet", "Settings", "SettingsSet", "Sheet", "SheetSet", "Undo", "mark_id", "resolve",
]  # fmt: skip
