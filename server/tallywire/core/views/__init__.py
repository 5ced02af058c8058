"""Views: the state of a heat as plain data for a page or a feed. No value in a frame is ever null."""
