"""Work as it is done: ticked off, proved, and kept in the record."""
