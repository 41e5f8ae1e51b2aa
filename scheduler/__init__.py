"""What to ask whom, when. Pure computation: no clock, file, network or database."""
