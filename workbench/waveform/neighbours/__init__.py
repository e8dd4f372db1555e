"""Other lanes at work beside the one that is looked at."""
