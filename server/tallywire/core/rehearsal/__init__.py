"""A recording to rehearse with: when each of its facts is told, and what would be if it had gone otherwise."""
