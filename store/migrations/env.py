"""Alembic's entry: it is only ever run from `store.migrate`, on a connection that is already open."""

from alembic import context
from sqlmodel import SQLModel

import store.tables  # noqa: F401 - fills the metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    transactional_ddl=True,
)
context.run_migrations()
