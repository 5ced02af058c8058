"""HTTP and websocket doors."""
