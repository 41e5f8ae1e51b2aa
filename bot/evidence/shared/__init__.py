"""What all papers share: figures with their uncertainty, drawing, tables, workbooks."""
