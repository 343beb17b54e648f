"""Read by alembic: how to run the steps on the connection that `migrate` hands over."""

from alembic import context

from snapcurve.notebook import tables

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=tables.metadata,
    version_table=tables.version.name,
)
with context.begin_transaction():
    context.run_migrations()
