"""HTTP and websocket routes."""
