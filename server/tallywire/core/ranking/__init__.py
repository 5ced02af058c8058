"""Places and points from plain numbers: tables, tie rules, standings, cuts, seeding. Knows no heats."""
