"""Models, jobs, attachments, documents."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Makes the first tables."""
    op.create_table(
        "models",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.Column("created", sa.Float, nullable=False),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(32), primary_key=True),
        sa.Column("model", sa.String(64), sa.ForeignKey("models.sha256"), nullable=False),
        sa.Column("name", sa.String(255), nullable=False),
        sa.Column("solid", sa.Integer),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("stage", sa.String(32), nullable=False),
        sa.Column("error", sa.Text),
        sa.Column("created", sa.Float, nullable=False),
        sa.Column("finished", sa.Float),
        sa.Column("owner", sa.String(64)),
        sa.Column("lease", sa.Float),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("cancel", sa.Boolean, nullable=False),
    )
    op.create_index("jobs_by_state", "jobs", ["state", "created"])
    op.create_table(
        "attachments",
        sa.Column("job", sa.String(32), sa.ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("field", sa.String(32), primary_key=True),
        sa.Column("name", sa.String(255), nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "documents",
        sa.Column("key", sa.String(64), primary_key=True),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.Column("created", sa.Float, nullable=False),
    )


def downgrade() -> None:
    """Drops them."""
    for name in ("documents", "attachments", "jobs", "models"):
        op.drop_table(name)
