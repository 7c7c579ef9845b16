"""Studies as text, JSON and tables: one module a study."""
