"""Opening, saving, guarding and handing over a board's file."""
