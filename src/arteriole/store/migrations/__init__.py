"""Alembic's scripts; run by :func:`arteriole.store.engine.migrate`."""
