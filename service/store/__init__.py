"""What the HTTP service remembers: models, jobs and documents, in SQLite or PostgreSQL through SQLAlchemy."""
