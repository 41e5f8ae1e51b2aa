"""What is remembered: tables, queries with names from the trade, migrations, readers of uploaded files."""
