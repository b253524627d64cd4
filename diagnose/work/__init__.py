"""From ranked faults to a job that is finished and proved: which jobs, in which order, with what, and what can wait."""
