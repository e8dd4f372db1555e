"""A folder with the program and all it needs, for computers without Python; `build` makes it, `__main__` runs it."""
