"""The details form of whatever is selected."""
