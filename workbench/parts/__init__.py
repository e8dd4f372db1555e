"""The kinds of part, one file each: a record with its facts, and what it does to a signal."""
