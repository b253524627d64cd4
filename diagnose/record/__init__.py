"""The record of the boats: one log that only grows, and views of it. What was found, done and judged, and when."""
