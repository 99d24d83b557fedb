"""The fictional demonstration block and the script that made it."""
