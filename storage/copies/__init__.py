"""Backups, and moving a school to another database."""
