"""The model: the competition as its file describes it, workouts, loads, and how times are written."""
