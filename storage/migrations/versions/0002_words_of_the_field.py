"""Words of the field: lease tokens and key-value pairs.

Only names change; every row stays as it is.
"""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Give the columns and the table their new names."""
    op.rename_table("bookmark", "key_value")
    _rename_key("key_value", "pk_bookmark", "pk_key_value")
    for table in ("due", "outbox"):
        op.execute(f"ALTER TABLE {table} RENAME COLUMN fence TO lease_token")


def downgrade() -> None:
    """Give them their old names back."""
    for table in ("due", "outbox"):
        op.execute(f"ALTER TABLE {table} RENAME COLUMN lease_token TO fence")
    _rename_key("key_value", "pk_key_value", "pk_bookmark")
    op.rename_table("key_value", "bookmark")


def _rename_key(table: str, old: str, new: str) -> None:
    if op.get_bind().dialect.name == "postgresql":  # SQLite cannot, and asks for no such name
        op.execute(f"ALTER TABLE {table} RENAME CONSTRAINT {old} TO {new}")
