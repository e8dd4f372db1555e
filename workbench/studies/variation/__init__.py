"""What varies from board to board, and the studies of it: corners and yield."""
