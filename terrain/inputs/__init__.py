"""Read and check what the user brings; the only layer that reads files."""
