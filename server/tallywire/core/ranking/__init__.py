"""Places and points from plain numbers: tables, tie rules, standings, cuts, seeding. It knows nothing of heats."""
