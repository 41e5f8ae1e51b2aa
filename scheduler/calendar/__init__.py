"""School days, quiet hours and time zones: when somebody may be asked at all."""
