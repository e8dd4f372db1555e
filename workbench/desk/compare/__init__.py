"""Side by side: snapshots and the table that compares them."""
