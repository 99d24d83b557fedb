"""Where: the table of points along every trail."""
