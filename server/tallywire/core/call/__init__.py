"""The call of a heat, from the book to its frame, in steps that can be done apart."""
