"""What a teacher pulls: numbers first, then text, picture, workbook and letter from the same numbers."""
