"""Runs the migrations on the connection that the store hands over."""

from alembic import context

from tracker.store.tables import METADATA, VERSION_TABLE

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
