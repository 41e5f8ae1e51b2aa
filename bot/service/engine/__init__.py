"""The loop on the database: events in, effects carried out, messages out, due work done."""
