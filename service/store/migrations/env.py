"""Run by alembic; the connection comes from service/store/migrate.py."""

from alembic import context

from service.store.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
