"""Where rows live: engine, sessions, column types, tables and migrations; SQLite by default, PostgreSQL by URL."""
