"""What may go on the air now: the catalogue of on-air views, and whom a view is about."""
