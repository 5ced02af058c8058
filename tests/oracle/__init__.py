"""An oracle written from docs/scoring.md alone, random competitions for it, and their comparison with the program."""
