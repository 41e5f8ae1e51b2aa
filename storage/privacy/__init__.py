"""What belongs to whom; exporting, erasing and cleaning it up in time."""
