"""The journal: an append-only, gapless, durable list of facts."""
