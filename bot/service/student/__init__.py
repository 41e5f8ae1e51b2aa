"""What students' conversations want done, carried out."""
