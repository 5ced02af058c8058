"""The wire: messages, codecs and one client's session, without I/O."""
