"""The fold: facts become tallies, lanes, heats, the show and the book of the whole competition."""
