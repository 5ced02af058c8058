"""The command `tallywire`."""


def main() -> int:
    """Run the command line and give its exit code."""
    return 0
