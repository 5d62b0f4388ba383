"""Alembic environment on the connection that `record.store.database_opening` passes.

No file is read for settings and no logging is set up; the caller holds the transaction.
"""

from __future__ import annotations

from alembic import context

from goodlength.record.store.database_tables import metadata

connection = context.config.attributes.get("connection")
if connection is None:
    context.configure(
        dialect_name=context.config.get_main_option("dialect") or "sqlite",
        target_metadata=metadata,
        render_as_batch=True,
        literal_binds=True,
    )
else:
    context.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
