"""The store: tables, the queries by noun, migrations. It knows no permissions and never commits by itself."""
