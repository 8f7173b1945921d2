"""Section: what the numbers rest on: file, hash, software, rules, settings, edits."""

from arteriole.recording.edit import EditRecord
from arteriole.report.doubt import fewer
from arteriole.report.tree import KEEP, KEEP_TYPED, Block, Facts, Section
from arteriole.report.words import short
from arteriole.study.result import Result

#: How many edits a full sheet still lists.
FEWER = (8, 4, 2)


def section(result: Result, edits: tuple[EditRecord, ...] = ()) -> Section:
    """Return the identity of the study; edits by a person are listed one by one."""
    r = result.recording
    channels = "; ".join(f"{c.name} {c.unit} {c.rate_hz:g} Hz" for c in r.channels)
    marks = [f"{m.kind} {m.label or ''}".strip() for m in result.sheet.marks]
    rows = (
        ("Recording", f"{short(r.name, KEEP_TYPED)} ({r.format}, {r.duration_s:.1f} s)"),
        ("SHA-256", r.sha256),
        ("Channels", channels or "none"),
        ("Software", f"arteriole {result.version}"),
        ("Rule table", result.statement.rules),
        ("Settings", result.settings.version),
        ("Marks by a person", short(", ".join(marks), KEEP) or "none"),
        ("Edits", f"{len(edits)}" if edits else "none"),
    )
    blocks: list[Block] = [Facts(rows=rows)]
    if edits:
        said = [f"{e.when}, {e.who}: {type(e.edit).__name__}. {e.why}" for e in edits]
        blocks.append(fewer(said, FEWER, "in the ledger"))
    return Section(key="origin", heading="Origin", blocks=tuple(blocks))
