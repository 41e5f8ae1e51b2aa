"""The loop: due reviews become nudges, answers become new review moments, on storage and scheduler."""
