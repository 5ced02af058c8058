"""One package a format, with everything it has of its own; `core.formats.registry` lists them."""
