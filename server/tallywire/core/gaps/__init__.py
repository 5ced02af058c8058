"""Gaps in reps, in work and in seconds, lead changes, pace and the marks ahead."""
