"""The journal on Redis Streams: one stream, a fenced append, a lease with a rising epoch."""
