"""First tables: study, recording, study_recording, event (append-only), result."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# Written out rather than taken from schema.py: a released step never changes afterwards.
TIME = sa.DateTime(timezone=True)
#: Batch changes drop triggers in silence: never batch-alter ``event``; every later step ends by
#: creating these again.
TRIGGERS = tuple(
    f"CREATE TRIGGER event_no_{verb.lower()} BEFORE {verb} ON event BEGIN "
    f"SELECT RAISE(ABORT, 'the ledger is append-only'); END"
    for verb in ("UPDATE", "DELETE")
)


def upgrade() -> None:
    """Create everything."""
    op.create_table(
        "study",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("changed_at", TIME, nullable=False),
        sa.Column("sheet", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_study"),
        sa.CheckConstraint(
            "state IN ('gathering','complete','signed','reopened')", name="ck_study_state"
        ),
    )
    op.create_table(
        "recording",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("format", sa.String(32), nullable=False),
        sa.Column("bytes", sa.Integer, nullable=False),
        sa.Column("duration_s", sa.Float, nullable=False),
        sa.Column("simulated", sa.Integer, nullable=False),
        sa.Column("channels", sa.JSON, nullable=False),
        sa.Column("stored_at", TIME, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_recording"),
    )
    op.create_table(
        "study_recording",
        sa.Column("study_id", sa.String(32), nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("main", sa.String(200), nullable=False),
        sa.Column("column_map", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("study_id", "position", name="pk_study_recording"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], "fk_study_recording_study_id_study"),
        sa.ForeignKeyConstraint(
            ["sha256"], ["recording.sha256"], "fk_study_recording_sha256_recording"
        ),
    )
    op.create_table(
        "event",
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("study_id", sa.String(32), nullable=False),
        sa.Column("at", TIME, nullable=False),
        sa.Column("actor", sa.String(120), nullable=False),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("prev", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_event"),
        sa.UniqueConstraint("id", name="uq_event_id"),
        sa.UniqueConstraint("prev", name="uq_event_prev"),
        sa.UniqueConstraint("hash", name="uq_event_hash"),
    )
    op.create_index("ix_event_study_id", "event", ["study_id"])
    op.create_table(
        "result",
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("study_id", sa.String(32), nullable=False),
        sa.Column("input_hash", sa.String(64), nullable=False),
        sa.Column("software_version", sa.String(32), nullable=False),
        sa.Column("made_at", TIME, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("summary", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_result"),
        sa.ForeignKeyConstraint(["study_id"], ["study.id"], "fk_result_study_id_study"),
    )
    op.create_index("ix_result_study_id", "result", ["study_id"])
    for trigger in TRIGGERS:
        op.execute(trigger)


def downgrade() -> None:
    """Take everything away, the triggers with their table."""
    for table in ("result", "event", "study_recording", "recording", "study"):
        op.drop_table(table)
