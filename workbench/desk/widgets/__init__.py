"""Theme, icons and the small widgets that every region uses."""
