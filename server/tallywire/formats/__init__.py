"""One package for each format, with everything that is special to it; `core.formats.registry` lists them."""
