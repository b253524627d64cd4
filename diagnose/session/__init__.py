"""A guided session at the engine: what was said becomes observations, and the next question follows from the log. Nothing prints here."""
