"""A folder with the program and all it needs, for computers without Python: ``python -m workbench.packaging FOLDER``."""
