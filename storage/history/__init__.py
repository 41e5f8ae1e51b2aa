"""What happened to a class, read whole: for the retention model and for reports."""
