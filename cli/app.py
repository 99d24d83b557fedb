"""The ``rutwise`` command."""


def main() -> None:
    """Run the command line."""
