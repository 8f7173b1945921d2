"""Run the steps on the connection that :func:`arteriole.store.engine.migrate` hands over."""

from alembic import context

from arteriole.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transaction_per_migration=True,
)
with context.begin_transaction():
    context.run_migrations()
