"""What a reviewer would flag, as a panel: each finding once, where it is, what to do about it."""
