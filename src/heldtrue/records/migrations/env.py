"""What alembic runs: the missing steps, on the connection and in the transaction it is handed."""

from alembic import context

from heldtrue.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"], target_metadata=Base.metadata, transactional_ddl=True
)
with context.begin_transaction():
    context.run_migrations()
