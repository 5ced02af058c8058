"""Pages in a real browser, fed with real frames by a stub of the wire."""
