"""Physical quantities from what a person can measure."""
