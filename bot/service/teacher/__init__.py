"""What teachers' conversations want done, carried out."""
