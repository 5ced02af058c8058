"""Heats that nobody ran: bodies that tire, judges who slip, networks that fail. One model for whatever needs a heat."""
