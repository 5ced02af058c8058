"""What a format plugs into: the interface, the counting that formats share, and the registry."""
